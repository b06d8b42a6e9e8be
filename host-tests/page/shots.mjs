// Pictures of the page at three widths, light and dark, to be looked at: node shots.mjs FOLDER
import { mkdir } from 'node:fs/promises';
import { join } from 'node:path';
import { browser, exact, open, root, view } from './bench.mjs';

const to = process.argv[2] ?? join(root, 'target/page-shots');
await mkdir(to, { recursive: true });
const chrome = await browser();
const server = await view(join(root, 'traces/lantern-staff'));
for (const colorScheme of ['light', 'dark']) {
  for (const width of [390, 1024, 1600]) {
    const { page, context } = await open(chrome, `${server.url}#at=63.1`, { colorScheme, viewport: { width, height: 1000 } });
    await exact(page);
    await page.waitForTimeout(300);
    await page.screenshot({ path: join(to, `${colorScheme}-${width}.png`), fullPage: true });
    await context.close();
  }
}
await server.stop();
await chrome.close();
console.log(to);
