// The one-file report, opened from disk.
import assert from 'node:assert/strict';
import { mkdtemp, rm, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { after, before, test } from 'node:test';
import { axe, brightest, browser, drag, exact, open, playByHand, root, run } from '../bench.mjs';

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

test('it computes anew from disk: dragging the cap turns the verdict, and nothing is asked of anyone', async () => {
  const { page, wrong, context } = await open(chrome, url);
  await context.setOffline(true);
  await exact(page);
  await page.waitForFunction(() => /Highest safe cap \d/.test(document.getElementById('try-page').shadowRoot.querySelector('#safe').textContent), null, { timeout: 120_000 });
  const safe = await page.locator('#safe').innerText();
  const [, cap, binding] = safe.match(/cap (\d+), bound by ([a-z-]+)/);
  const fails = () => page.locator('#margins button.fails').evaluateAll((l) => l.map((b) => b.dataset.check));
  await page.locator('#margins button[data-check=cell-pulse]').first().click();
  const full = await brightest(page);
  await drag(page, '#cap', Math.max(1, Number(cap) - 12));
  await exact(page);
  const below = Number(await page.locator('#cap').inputValue());
  assert.ok(below > 0 && below < Number(cap), `dragged to ${below}`);
  assert.ok(!(await fails()).includes(binding), `${binding} holds below`);
  assert.ok(await brightest(page) < full, 'the strip is dimmer');
  await drag(page, '#cap', Math.min(255, Number(cap) + 30));
  await exact(page);
  assert.ok((await fails()).includes(binding), `${binding} fails above`);
  // Currents follow the charge, the address holds it all, and a step leads back.
  const current = () => page.locator('#current').getAttribute('aria-label');
  const before = await current();
  await drag(page, '#soc', 10);
  await drag(page, '#celsius', -10);
  await exact(page);
  assert.notEqual(await current(), before);
  assert.match(new URL(page.url()).hash, /cap=\d+&soc=\d+&celsius=-?\d+/);
  await page.locator('#undo').click();
  await page.locator('#undo').click();
  await exact(page);
  assert.equal(await current(), before, 'two steps back give the same numbers');
  // Another preset.
  const strips = await page.locator('#plot #current').getAttribute('aria-label');
  await page.locator('#play-choice').selectOption({ index: 1 });
  await exact(page);
  assert.notEqual(await current(), strips);
  assert.deepEqual(wrong, []);
  await context.close();
});

test('its verdicts are those of the report when nothing has been changed', async () => {
  const { page, wrong, context } = await open(chrome, url);
  await exact(page);
  const preset = (await page.locator('#play-choice option').first().innerText()).split(' · ')[0];
  const shown = await page.locator('#margins button').evaluateAll((l) => l.map((b) => `${b.dataset.check} ${b.className} ${b.dataset.time}`).sort());
  const ran = await run(['check', join(root, 'traces/lantern-staff'), '--preset', preset, '--format', 'json']);
  const told = JSON.parse(ran.out).checks.map((r) => `${r.id} ${r.verdict} ${r.time_s ?? ''}`).sort();
  assert.ok(told.some((t) => t.includes(' fails ')), 'the demo has failures');
  assert.deepEqual(shown, told);
  assert.deepEqual(wrong, []);
  await context.close();
});

test('a preset can be played by hand without a server', async () => {
  const { page, wrong, context } = await open(chrome, url);
  await exact(page);
  await playByHand(page);
  assert.deepEqual(wrong, []);
  await context.close();
});

test('without WebAssembly it says so, and the films still play', async () => {
  const context = await chrome.newContext();
  await context.addInitScript(() => { delete globalThis.WebAssembly; });
  const page = await context.newPage();
  const errors = [];
  page.on('pageerror', (e) => errors.push(e.message));
  await page.goto(url);
  await page.waitForFunction(() => document.getElementById('try').classList.contains('still'));
  assert.match(await page.locator('#try-note').innerText(), /no WebAssembly.*films below/);
  assert.equal(await page.locator('#try-page').isVisible(), false);
  const first = parseFloat(await page.locator('#play-0 .at').innerText());
  await page.locator('#play-0 .go').click();
  await page.waitForTimeout(700);
  assert.ok(parseFloat(await page.locator('#play-0 .at').innerText()) > first + 0.3);
  assert.deepEqual(errors, []);
  await context.close();
});

test('wide and narrow, light and dark: nothing serious for axe-core; it prints', async () => {
  for (const colorScheme of ['light', 'dark']) {
    for (const width of [390, 1024, 1600]) {
      const { page, context } = await open(chrome, url, { colorScheme, viewport: { width, height: 900 } });
      await exact(page);
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
