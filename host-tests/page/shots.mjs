// Pictures of the page and of the report at three widths, light and dark, and the report as printed, to be looked at:
// node shots.mjs FOLDER
import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { browser, exact, open, root, run, view } from './bench.mjs';

const to = process.argv[2] ?? join(root, 'target/page-shots');
await mkdir(to, { recursive: true });
const chrome = await browser();
const server = await view(join(root, 'traces/lantern-staff'));
const file = join(to, 'report.html');
await run(['check', join(root, 'traces/lantern-staff'), '--html', file]);
const pages = { page: `${server.url}#at=63.1`, report: `${pathToFileURL(file).href}#cap=160&at=63.1` };
for (const [name, url] of Object.entries(pages)) {
  for (const colorScheme of ['light', 'dark']) {
    for (const width of [390, 1024, 1600]) {
      const { page, context } = await open(chrome, url, { colorScheme, viewport: { width, height: 1000 } });
      await exact(page);
      await page.waitForTimeout(300);
      await page.screenshot({ path: join(to, `${name}-${colorScheme}-${width}.png`), fullPage: true });
      await context.close();
    }
  }
  const { page, context } = await open(chrome, url);
  await exact(page);
  await writeFile(join(to, `${name}.pdf`), await page.pdf({ format: 'A4', printBackground: false }));
  await context.close();
}
await server.stop();
await chrome.close();
console.log(to);
