// The one-file report, opened from disk.
import assert from 'node:assert/strict';
import { mkdtemp, rm, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { after, before, test } from 'node:test';
import { axe, browser, open, root, run } from '../bench.mjs';

let chrome;
let dir;
let url;
before(async () => {
  chrome = await browser();
  dir = await mkdtemp(join(tmpdir(), 'lampwright-report-'));
  const file = join(dir, 'report.html');
  const ran = await run(['check', join(root, 'traces/lantern-staff'), '--html', file]);
  assert.ok(ran.code <= 1, ran.err);
  assert.ok((await stat(file)).size < 2_000_000);
  url = pathToFileURL(file).href;
});
after(async () => { await chrome.close(); await rm(dir, { recursive: true, force: true }); });

const lit = (page, k) => page.locator(`#play-${k} canvas`).evaluate((c) => {
  const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
  let sum = 0;
  for (let i = 0; i < d.length; i += 4) sum += d[i] + d[i + 1] + d[i + 2];
  return sum;
});

test('it opens from disk, its own script runs under its policy, and nothing plays by itself', async () => {
  const { page, wrong, context } = await open(chrome, url);
  const first = await page.locator('#play-0 .at').innerText();
  await page.waitForTimeout(300);
  assert.equal(await page.locator('#play-0 .at').innerText(), first);
  const before = await lit(page, 0);
  await page.locator('#play-0 .go').click();
  await page.waitForTimeout(700);
  await page.locator('#play-0 .go').click();
  const now = parseFloat(await page.locator('#play-0 .at').innerText());
  assert.ok(now > parseFloat(first) + 0.3, `${first} to ${now}`);
  assert.notEqual(await lit(page, 0), before, 'the strips changed');
  assert.deepEqual(wrong, []);
  await context.close();
});

test('a verdict leads to its moment', async () => {
  const { page, context } = await open(chrome, url);
  const link = page.locator('a.seek').first();
  const [preset, time] = await link.evaluate((a) => [a.dataset.preset, Number(a.dataset.time)]);
  await link.click();
  const at = await page.locator(`.play[data-preset="${preset}"] .at`).innerText();
  assert.equal(parseFloat(at).toFixed(2), time.toFixed(2));
  await context.close();
});

test('wide and narrow, light and dark: nothing serious for axe-core; it prints', async () => {
  for (const colorScheme of ['light', 'dark']) {
    for (const width of [390, 1024, 1600]) {
      const { page, context } = await open(chrome, url, { colorScheme, viewport: { width, height: 900 } });
      assert.deepEqual(await axe(page), [], `${colorScheme} ${width}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
      assert.ok(wide <= 0, `${width}: ${wide} px too wide`);
      await context.close();
    }
  }
  const { page, context } = await open(chrome, url);
  const pdf = await page.pdf({ format: 'A4', printBackground: false });
  const pages = pdf.toString('latin1').match(/\/Type\s*\/Page[^s]/g)?.length ?? 0;
  assert.ok(pages > 5 && pages < 40, `${pages} pages`);
  await context.close();
});
