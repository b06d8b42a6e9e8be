// The page as its user meets it: real clicks, drags and keys in a browser.
import assert from 'node:assert/strict';
import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { axe, brightest, browser, copyOf, drag, exact, open, playByHand, view } from '../bench.mjs';

let chrome;
let prop;
let server;
before(async () => {
  chrome = await browser();
  prop = await copyOf('lantern-staff');
  server = await view(prop.dir);
});
after(async () => {
  await server.stop();
  await chrome.close();
  await prop.remove();
});

const text = (page, selector) => page.locator(selector).innerText();
const value = (page, selector) => page.locator(selector).inputValue();

test('opening shows the prop, plays nothing by itself and announces flashes', async () => {
  const { page, wrong, context } = await open(chrome, server.url);
  await exact(page);
  assert.equal(await text(page, 'h1'), 'Parade lantern staff');
  assert.match(await text(page, '#flash'), /flash/i);
  assert.match(await text(page, '#go'), /^Play/);
  const before = await text(page, '#at');
  await page.waitForTimeout(400);
  assert.equal(await text(page, '#at'), before, 'time stands still');
  assert.match(await text(page, '#verdict'), /margins/);
  const verdicts = await page.locator('#margins button').evaluateAll((l) => l.map((b) => b.className));
  const order = ['fails', 'tight', 'not-checked', 'holds'];
  const ranks = verdicts.map((v) => order.indexOf(v));
  assert.deepEqual(ranks, [...ranks].sort(), 'the worst on top');
  assert.deepEqual(wrong, []);
  await context.close();
});

test('space plays and stops, the play head and the numbers move', async () => {
  const { page, wrong, context } = await open(chrome, server.url);
  await exact(page);
  await page.locator('h1').click();
  await page.keyboard.press('Space');
  await page.waitForTimeout(900);
  assert.equal(await text(page, '#go'), 'Stop');
  await page.keyboard.press('Space');
  const at = parseFloat(await text(page, '#at'));
  assert.ok(at > 0.5 && at < 3, `played to ${at} s`);
  assert.ok(page.url().includes('at='), 'the address holds the moment');
  // With the keyboard alone: the slider of time.
  await page.locator('#time').focus();
  await page.keyboard.press('End');
  assert.ok(parseFloat(await text(page, '#at')) > 100);
  assert.deepEqual(wrong, []);
  await context.close();
});

test('dragging the cap below and above the binding value turns the verdict', async () => {
  const { page, wrong, context } = await open(chrome, server.url);
  await exact(page);
  await page.waitForFunction(() => /Highest safe cap/.test(document.querySelector('#safe').textContent), null, { timeout: 90_000 });
  const safe = Number((await text(page, '#safe')).match(/cap (\d+)/)[1]);
  assert.ok(safe > 1 && safe < 255, `the demo's first preset needs a cap: ${safe}`);
  const fails = () => page.locator('#margins button.fails').evaluateAll((l) => l.map((b) => b.dataset.check));
  const binding = (await text(page, '#safe')).match(/bound by ([a-z-]+)/)[1];
  await drag(page, '#cap', Math.max(1, safe - 12));
  await exact(page);
  const below = await value(page, '#cap');
  assert.ok(Number(below) < safe, below);
  assert.ok(!(await fails()).includes(binding), `${binding} holds below`);
  await drag(page, '#cap', Math.min(255, safe + 25));
  await exact(page);
  assert.ok(Number(await value(page, '#cap')) > safe);
  assert.ok((await fails()).includes(binding), `${binding} fails above`);
  // The button sets the very value, which holds; one step more by key fails.
  await page.locator('#take-safe').click();
  await exact(page);
  assert.equal(await value(page, '#cap'), String(safe));
  assert.ok(!(await fails()).includes(binding));
  await page.locator('#cap').focus();
  await page.keyboard.press('ArrowRight');
  await exact(page);
  assert.ok((await fails()).includes(binding), 'one step above the safe cap fails');
  // Steps back: by key and by button.
  await page.keyboard.press('Control+z');
  assert.equal(await value(page, '#cap'), String(safe));
  await page.locator('#undo').click();
  assert.ok(Number(await value(page, '#cap')) > safe);
  await page.keyboard.press('Control+Shift+z');
  assert.equal(await value(page, '#cap'), String(safe));
  assert.deepEqual(wrong, []);
  await context.close();
});

test('a cap is true to the eye: half the drive is 188 of 255 on the screen', async () => {
  const { page, context } = await open(chrome, server.url);
  await exact(page);
  // The brightest moment that the margins name.
  const time = await page.locator('#margins button[data-check=cell-pulse]').first().getAttribute('data-time');
  await page.locator('#margins button[data-check=cell-pulse]').first().click();
  assert.equal(parseFloat(await text(page, '#at')).toFixed(2), Number(time).toFixed(2), 'a margin leads to its frame');
  const full = await brightest(page);
  await page.locator('#cap').focus();
  for (let k = 0; k < 127; k += 1) await page.keyboard.press('ArrowLeft');
  await exact(page);
  assert.equal(await value(page, '#cap'), '128');
  const half = await brightest(page);
  // IEC 61966-2-1, both ways; one code and the rounding of a drive step are allowed for.
  const light = (v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4);
  assert.ok(full > 200, `the moment is bright: ${full}`);
  assert.ok(Math.abs(light(half) / light(full) - 128 / 255) < 0.015, `${half} of ${full}`);
  await context.close();
});

test('a change on disk shows at once; a bad build shows its place and keeps the last good state', async () => {
  const { page, wrong, context } = await open(chrome, server.url);
  await exact(page);
  const file = join(prop.dir, 'build.toml');
  const good = await readFile(file, 'utf8');
  await writeFile(file, good.replace('name = "Parade lantern staff"', 'name = "Parade lantern staff, mended"'));
  await page.waitForFunction(() => document.querySelector('h1').textContent.endsWith('mended'), null, { timeout: 10_000 });
  const margins = await page.locator('#margins button').count();
  const lines = good.split('\n');
  const at = lines.findIndex((l) => l.startsWith('pixels = 96'));
  lines[at] = 'pixels = "many"';
  await writeFile(file, lines.join('\n'));
  await page.locator('#faults').waitFor({ state: 'visible', timeout: 10_000 });
  const told = await text(page, '#faults');
  assert.match(told, new RegExp(`build\\.toml:${at + 1}:`), told);
  assert.match(told, /last state without a fault/);
  assert.equal(await text(page, 'h1'), 'Parade lantern staff, mended');
  assert.equal(await page.locator('#margins button').count(), margins);
  await page.locator('#cap').focus();
  await page.keyboard.press('Home');
  await exact(page);
  assert.equal(await value(page, '#cap'), '0', 'it goes on with the last good state');
  await writeFile(file, good);
  await page.locator('#faults').waitFor({ state: 'hidden', timeout: 10_000 });
  await page.waitForFunction(() => document.querySelector('h1').textContent === 'Parade lantern staff');
  assert.deepEqual(wrong, []);
  await context.close();
});

test('two windows keep their own settings and both follow the files', async () => {
  const one = await open(chrome, `${server.url}#cap=40`);
  const two = await open(chrome, `${server.url}#cap=200&soc=20&celsius=0&aged=1`);
  await exact(one.page);
  await exact(two.page);
  assert.equal(await value(one.page, '#cap'), '40');
  assert.equal(await value(two.page, '#cap'), '200');
  assert.equal(await value(two.page, '#soc'), '20');
  assert.equal(await two.page.locator('#aged').isChecked(), true);
  assert.match(await text(two.page, '#shown'), /20 % charged, 0 °C, aged cell/);
  const file = join(prop.dir, 'build.toml');
  const good = await readFile(file, 'utf8');
  await writeFile(file, good.replace('name = "Parade lantern staff"', 'name = "Seen twice"'));
  for (const w of [one, two]) await w.page.waitForFunction(() => document.querySelector('h1').textContent === 'Seen twice', null, { timeout: 10_000 });
  assert.equal(await value(one.page, '#cap'), '40');
  await writeFile(file, good);
  for (const w of [one, two]) { assert.deepEqual(w.wrong, []); await w.context.close(); }
});

test('a preset can be played by hand with cues by button', async () => {
  const { page, wrong, context } = await open(chrome, server.url);
  await exact(page);
  await playByHand(page);
  assert.match(await text(page, '#live-state'), /Stopped/);
  assert.deepEqual(wrong, []);
  await context.close();
});

test('light and dark, wide and narrow: nothing serious for axe-core, nothing cut off', async () => {
  for (const colorScheme of ['light', 'dark']) {
    for (const width of [390, 1024, 1600]) {
      const { page, wrong, context } = await open(chrome, server.url, { colorScheme, viewport: { width, height: 900 } });
      await exact(page);
      assert.deepEqual(await axe(page), [], `${colorScheme} ${width}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
      assert.ok(wide <= 0, `${width}: ${wide} px too wide`);
      assert.deepEqual(wrong, []);
      await context.close();
    }
  }
});

test('less motion is honoured', async () => {
  const { page, context } = await open(chrome, server.url, { reducedMotion: 'reduce' });
  await exact(page);
  assert.match(await text(page, '#go'), /moving light|flashing light/, 'the button says what it does');
  const before = await text(page, '#at');
  await page.waitForTimeout(300);
  assert.equal(await text(page, '#at'), before);
  await context.close();
});

test('a stopped program is told, and what was shown stays', async () => {
  const own = await view(prop.dir);
  const { page, context } = await open(chrome, own.url);
  await exact(page);
  const rows = await page.locator('#margins button').count();
  assert.equal(await own.stop(), 0, 'an interrupt ends it in order');
  await page.locator('#stopped').waitFor({ state: 'visible', timeout: 15_000 });
  assert.match(await text(page, '#stopped'), /stopped/);
  assert.equal(await page.locator('#margins button').count(), rows);
  await context.close();
});
