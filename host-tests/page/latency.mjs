// How quickly a cap change is painted, and how smoothly 288 pixels play with the charts on.
// Measured in the browser: from the time stamp of the input event to the frame in which estimate and light are drawn.
import { mkdtemp, readFile, rm, writeFile, cp } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { browser, exact, open, root, view } from './bench.mjs';

const at = (list, share) => [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.floor(list.length * share))];
const chrome = await browser();

const server = await view(join(root, 'traces/lantern-staff'));
const first = await open(chrome, server.url);
await exact(first.page);
// The digest is made once for each preset: the first drag warms it.
await first.page.locator('#cap').focus();
await first.page.keyboard.press('ArrowLeft');
await first.page.waitForFunction(() => performance.getEntriesByName('repaint').length > 0);
await exact(first.page);
await first.page.waitForFunction(() => /Highest safe cap/.test(document.querySelector('#safe').textContent), null, { timeout: 90_000 });
await first.page.evaluate(() => performance.clearMeasures());
for (let k = 0; k < 40; k += 1) {
  await first.page.keyboard.press(k % 2 ? 'PageUp' : 'PageDown');
  await first.page.waitForTimeout(60);
}
await first.page.waitForTimeout(1000);
const repaint = await first.page.evaluate(() => performance.getEntriesByName('repaint').map((e) => e.duration));
console.log(`cap change to repaint, ${repaint.length} changes: median ${at(repaint, 0.5).toFixed(1)} ms, 90 % ${at(repaint, 0.9).toFixed(1)} ms`);
await first.context.close();
await server.stop();

// 288 pixels: the column of the staff three times as long.
const dir = await mkdtemp(join(tmpdir(), 'lampwright-page-'));
await cp(join(root, 'traces/lantern-staff'), dir, { recursive: true });
const build = await readFile(join(dir, 'build.toml'), 'utf8');
await writeFile(join(dir, 'build.toml'), build.replace('pixels = 96', 'pixels = 275'));
const long = await view(dir, '--preset', 'quiet-harbour', '--cap', '40');
const second = await open(chrome, `${long.url}#at=30`);
await second.page.waitForFunction(() => document.querySelector('#shown').textContent.length > 0, null, { timeout: 90_000 });
await exact(second.page);
await second.page.waitForTimeout(8000);
await second.page.locator('#go').click();
const frames = await second.page.evaluate(() => new Promise((done) => {
  const times = [];
  const step = (t) => { times.push(t); if (times.length > 600) done(times); else requestAnimationFrame(step); };
  requestAnimationFrame(step);
}));
const gaps = frames.slice(1).map((t, k) => t - frames[k]);
const mean = gaps.reduce((a, b) => a + b, 0) / gaps.length;
console.log(`288 pixels playing with charts on: ${(1000 / mean).toFixed(1)} frames/s over ${gaps.length} frames, longest gap ${Math.max(...gaps).toFixed(1)} ms, 99 % ${at(gaps, 0.99).toFixed(1)} ms`);
await second.context.close();
await long.stop();
await chrome.close();
await rm(dir, { recursive: true, force: true });
