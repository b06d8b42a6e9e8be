// A prop folder of its own, a running `view`, a browser.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { cp, mkdtemp, rm } from 'node:fs/promises';
import { existsSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { fileURLToPath } from 'node:url';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';

export const root = fileURLToPath(new URL('../..', import.meta.url)).replace(/\/$/, '');
const built = ['release', 'debug'].map((p) => join(root, 'target', p, 'lampwright')).find(existsSync);
export const program = process.env.LAMPWRIGHT ?? built;
if (!program) throw new Error('build lampwright first: cargo build --release');
const CHROMIUM = process.env.CHROMIUM ?? '/usr/bin/chromium';

/// A copy of a demo prop that may be changed.
export async function copyOf(name) {
  const dir = await mkdtemp(join(tmpdir(), 'lampwright-page-'));
  await cp(join(root, 'traces', name), dir, { recursive: true });
  return { dir, remove: () => rm(dir, { recursive: true, force: true }) };
}

/// Runs to its end.
export function run(args) {
  return new Promise((done, fail) => {
    const child = spawn(program, args, { stdio: ['ignore', 'pipe', 'pipe'] });
    let err = '';
    let out = '';
    child.stdout.on('data', (d) => { out += d; });
    child.stderr.on('data', (d) => { err += d; });
    child.on('error', fail);
    child.on('close', (code) => done({ code, out, err }));
  });
}

/// Starts `view` and gives its address.
export async function view(prop, ...more) {
  const child = spawn(program, ['view', prop, ...more], { stdio: ['ignore', 'pipe', 'inherit'] });
  const lines = createInterface({ input: child.stdout });
  const url = await new Promise((done, fail) => {
    lines.on('line', (line) => { const m = line.match(/^Open (http:\S+)/); if (m) done(m[1]); });
    child.on('exit', (code) => fail(new Error(`view ended with ${code}`)));
  });
  const stop = () => new Promise((done) => {
    if (child.exitCode !== null) { done(child.exitCode); return; }
    child.on('exit', (code) => done(code));
    child.kill('SIGINT');
  });
  return { url, stop };
}

export const browser = () => chromium.launch({ executablePath: CHROMIUM, args: ['--no-sandbox', '--force-color-profile=srgb'] });

/// A page that fails the test on any error of its own or any request to elsewhere.
export async function open(chrome, url, options = {}) {
  const context = await chrome.newContext({ viewport: { width: 1600, height: 1000 }, ...options });
  const page = await context.newPage();
  const wrong = [];
  page.on('pageerror', (e) => wrong.push(`error: ${e.message}`));
  page.on('console', (m) => { if (m.type() === 'error' && !/ERR_CONNECTION|Failed to load resource/.test(m.text())) wrong.push(`console: ${m.text()}`); });
  const own = new URL(url).origin;
  page.on('request', (r) => { if (!r.url().startsWith('data:') && !r.url().startsWith('blob:') && !r.url().startsWith('file:') && new URL(r.url()).origin !== own) wrong.push(`asked ${r.url()}`); });
  await page.goto(url);
  return { page, context, wrong };
}

/// Waits until the margins are of the whole trace; the page is the document, or what a report carries.
export const exact = (page) => page.waitForFunction(() => {
  const shadow = document.getElementById('try-page')?.shadowRoot;
  const [root, bearer] = shadow ? [shadow, shadow.querySelector('.page')] : [document, document.body];
  return !bearer.classList.contains('estimate') && root.querySelectorAll('#margins button').length > 5
    && root.querySelector('#margins-state').textContent.includes('over the whole trace');
}, null, { timeout: 120_000 });

/// Drags the thumb of a slider to a value, as a hand does.
export async function drag(page, selector, to) {
  await page.locator(selector).scrollIntoViewIfNeeded();
  const box = await page.locator(selector).boundingBox();
  const [min, max, now] = await page.locator(selector).evaluate((e) => [+e.min, +e.max, +e.value]);
  const x = (v) => box.x + 8 + ((v - min) / (max - min)) * (box.width - 16);
  const y = box.y + box.height / 2;
  await page.mouse.move(x(now), y);
  await page.mouse.down();
  for (let k = 1; k <= 6; k += 1) await page.mouse.move(x(now + ((to - now) * k) / 6), y);
  await page.mouse.up();
}

/// The brightest light of the strips, as a colour of the screen 0..255.
export const brightest = (page) => page.locator('#strips').evaluate((c) => {
  const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
  let most = 0;
  // Names are grey and above each strip: rows of light begin 19 px below.
  const line = 52 * (window.devicePixelRatio || 1);
  for (let i = 0; i < d.length; i += 4) {
    const row = Math.floor(i / 4 / c.width) % line;
    if (row > 20 && row < 42) most = Math.max(most, d[i], d[i + 1], d[i + 2]);
  }
  return most;
});

/// Serious and critical findings of axe-core.
export async function axe(page) {
  const path = createRequire(import.meta.url).resolve('axe-core/axe.min.js');
  // The page's policy lets no foreign script in: the checker is put in by the debugger, as a person's tool would be.
  await page.evaluate(await (await import('node:fs/promises')).readFile(path, 'utf8'));
  const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  return found.violations.filter((v) => ['serious', 'critical'].includes(v.impact))
    .map((v) => `${v.id}: ${v.nodes.map((n) => `${n.target} ${n.failureSummary}`).slice(0, 3).join(' | ')}`);
}

/// Plays by hand: dark before a cue, lit after a press.
export async function playByHand(page) {
  await page.locator('#live').click();
  await page.locator('#live-state', { hasText: 'Playing' }).waitFor();
  await page.waitForTimeout(500);
  // The ground of the stage is #0b0a08: a pixel that is off is darker than that.
  assert.ok(await brightest(page) <= 0x0b, 'dark before a cue');
  await page.locator('[data-cue=short-press]').click();
  await page.waitForTimeout(2500);
  assert.ok(await brightest(page) > 40, 'lit after the press');
  await page.locator('#live').click();
}
