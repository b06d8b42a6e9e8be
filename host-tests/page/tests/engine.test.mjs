// The engine as WebAssembly beside the command: the same bytes, frames and numbers alike.
// The outside check is the other machine: instruction set, system library and compiler back end all differ.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { basename, join } from 'node:path';
import { test } from 'node:test';
import { root, view } from '../bench.mjs';
import { engine, texts } from '../engine.mjs';

// The page's own modules: they are served as scripts, so that node has to be told what they are.
const own = async (name) => {
  const text = await readFile(join(root, 'harness/src/view/page', name), 'utf8');
  return import(`data:text/javascript;base64,${Buffer.from(text).toString('base64')}`);
};
const { frameAt } = await own('readout.js');
const page = await own('sheet.js');
const sheet = (bytes) => page.sheet(bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.length));

const nominal = { variant: null, play: 0, cap: 255, soc: 0.6, celsius: 25, aged: false, cautious: false, over_set: true };
const WISHES = [
  nominal,
  { ...nominal, cap: 1 },
  { ...nominal, cap: 77, soc: 0.2, celsius: 0, aged: true, cautious: true },
  { ...nominal, cap: 200, soc: 0.05, celsius: -20, aged: true, cautious: true, over_set: false },
  { ...nominal, cap: 128, soc: 1, celsius: 60, over_set: false },
];

/// Where two answers part, in words.
function same(ours, theirs, what) {
  if (ours.equals(theirs)) return;
  let at = 0;
  while (at < Math.min(ours.length, theirs.length) && ours[at] === theirs[at]) at += 1;
  const near = (b) => b.subarray(Math.max(0, at - 60), at + 60).toString('latin1');
  assert.fail(`${what}: ${ours.length} and ${theirs.length} bytes, parted at ${at}:\n${near(ours)}\n${near(theirs)}`);
}

for (const prop of ['lantern-staff', 'stage-torch']) {
  test(`${prop}: frames, currents, voltages and margins are the same to the byte`, async () => {
    const folder = join(root, 'traces', prop);
    const server = await view(folder);
    const post = async (what, body) => {
      const answer = await fetch(`${server.url}api/${what}`, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
      const bytes = Buffer.from(await answer.arrayBuffer());
      assert.equal(answer.status, 200, bytes.toString());
      return bytes;
    };
    try {
      const told = JSON.parse(await post('prop', { variant: null }));
      const plays = told.plays.map((p) => [`presets/${p.preset}.toml`, `cues/${basename(p.cues)}`]);
      const { ask } = await engine(await texts(folder, plays));
      let frames = 0;
      let lit = 0;
      for (let play = 0; play < plays.length; play += 1) {
        for (const wish of WISHES.map((w) => ({ ...w, play }))) {
          const what = `${plays[play].join(' with ')} at cap ${wish.cap}`;
          const sheet = await post('play', wish);
          same(ask('play', wish), sheet, `play, ${what}`);
          const head = JSON.parse(sheet.subarray(4, 4 + sheet.readUInt32LE(0)));
          frames += head.frames;
          lit += sheet.subarray(sheet.length - head.frames * head.frame_len).reduce((n, l) => n + (l > 0), 0);
          same(ask('margins', wish), await post('margins', wish), `margins, ${what}`);
          const quick = { wish, at_s: 31.25 };
          same(ask('quick', quick), await post('quick', quick), `estimate, ${what}`);
        }
        const wish = { ...nominal, play };
        same(ask('cap', wish), await post('cap', wish), `cap of ${plays[play][0]}`);
      }
      // By hand, too.
      const { id } = JSON.parse(await post('live/start', nominal));
      ask('live/start', nominal);
      for (const cues of [[], [{ kind: 'short-press', value: 0 }], [], [{ kind: 'knock', value: 0.7 }], []]) {
        same(ask('live/step', { cues, frames: 60 }), await post('live/step', { id, cues, frames: 60 }), 'by hand');
      }
      assert.ok(frames > 10_000 && lit > 100_000, `${frames} frames, ${lit} lit levels were compared`);
    } finally { await server.stop(); }
  });
}

test('the light that comes with an estimate is the very frame of the whole play', async () => {
  const folder = join(root, 'traces/lantern-staff');
  const { ask } = await engine(await texts(folder, [['presets/marsh-lantern.toml', 'cues/twist-and-turn.csv'], ['presets/chalk-noon.toml', 'cues/evening-walk.csv']]));
  let lit = 0;
  for (const play of [0, 1]) {
    for (const cap of [3, 77, 255]) {
      const wish = { ...nominal, play, cap, over_set: false };
      const whole = sheet(ask('play', wish));
      for (const frame of [0, 1, 599, 3800, 3801, whole.frames - 1]) {
        // As a margin names the moment: a number of 64 bits, where the sheet has 32.
        const at_s = frame * whole.head.period_s;
        assert.equal(frameAt(whole, at_s), frame, 'the page finds the frame of a moment');
        const light = sheet(ask('quick', { wish, at_s })).levels;
        const expected = whole.levels.subarray(frame * whole.head.frame_len, (frame + 1) * whole.head.frame_len);
        assert.deepEqual(Buffer.from(light), Buffer.from(expected), `play ${play}, cap ${cap}, frame ${frame}`);
        lit += light.some((l) => l > 0);
      }
      const past = sheet(ask('quick', { wish, at_s: 1e9 })).levels;
      assert.equal(past.length, whole.head.frame_len, 'a moment after the end has the last frame');
    }
  }
  assert.ok(lit > 15, `${lit} lit frames were compared`);
});

test('what cannot be read is told with its place, and the engine goes on', async () => {
  const folder = join(root, 'traces/stage-torch');
  const good = await texts(folder, [['presets/winter-bell.toml', 'cues/second-act.csv']]);
  const { ask } = await engine();
  assert.throws(() => ask('play', nominal), /no prop has been opened/);
  const files = good.files.map(([n, t]) => [n, n === 'build.toml' ? `${t}\nnot toml` : t]);
  assert.throws(() => ask('open', { ...good, files }), /build\.toml/);
  assert.throws(() => ask('open', '{'), /not a question/);
  ask('open', good);
  assert.throws(() => ask('play', { ...nominal, cap: 900 }), /not a question/);
  assert.throws(() => ask('play', { ...nominal, play: 7 }), /no such preset/);
  assert.ok(ask('play', nominal).length > 1000);
});
