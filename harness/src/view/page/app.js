// The page: what is wished, what is known of it, and drawing the one from the other.
import { bearer, carried, css, root } from './place.js';
import { Faulty, Gone } from './sheet.js';
import { ask, askSheet, ready } from './server.js';
import { drawStrips, Film } from './light.js';
import { drawCurrent, drawVoltage, GUTTER, partColour, parts, PEAK_DASH, VOLTAGES } from './charts.js';
import { flashes, merged, showMargins, summary } from './margins.js';
import { fromAddress, playName, Steps, timeInAddress, toAddress } from './wish.js';
import { CUES, Live } from './live.js';
import { amps, currents, frameAt, legend, placed, say, volts } from './readout.js';
import { node, showFaults } from './words.js';

const $ = (id) => root.getElementById(id);
const calm = matchMedia('(prefers-reduced-motion: reduce)');
/// How long a wish must stand before everything is computed for it.
const SETTLE_MS = 110;

let prop;             // what the program says of the prop
let steps;            // wishes, with steps back
let wish;             // the wish of the moment
let taken = -1;       // the wish whose every frame is there
let serial = 0;       // counts wishes: an answer to an older one is dropped
let take = null;      // every frame, under the cap it was made at
let light = null;     // the frame of one moment, drawn anew at the cap of the moment
let film = null;
let drawn = null;     // what the charts show: a take, a digest, or a live play
let results = [];     // margins
let exact = false;    // whether they are of the whole trace
let safe = null;      // the highest safe cap
let timeS = 0;
let playing = false;
let live = null;
let lastTick = 0;
let lastWords = 0;
let risky = false;
let asked = null;     // what can be called off
let settle = 0;
let quickBusy = false;
let quickNext = false;
let inputAt = 0;
let written = 0;
let warm = '';         // the play whose digest, which estimates stand on, is being made

const lengthS = () => (live ? Math.max(10, live.frames * (live.period || 0.02)) : prop.plays[wish.play]?.length_s ?? (take ? take.frames * take.head.period_s : 1));
const factor = () => (live || !take || !take.head.cap ? 1 : wish.cap / take.head.cap);

// ---- drawing ------------------------------------------------------------------------------------------------------------

function drawLight() {
  if (taken !== serial && light && light.cap === wish.cap && light.atS === timeS) {
    drawStrips($('strips'), prop, light.levels, 0, light.levels.length, 1);
    return;
  }
  const sheet = live ? live.sheet() : take;
  const frame = sheet ? frameAt(sheet, timeS) : -1;
  drawStrips($('strips'), prop, sheet?.levels, frame, sheet?.head.frame_len ?? 0, factor());
}

function drawHead() {
  const wide = $('plot').clientWidth - GUTTER;
  $('head').style.transform = `translateX(${GUTTER + Math.min(1, timeS / lengthS()) * wide}px)`;
}

function drawCharts() {
  if (!drawn) return;
  drawCurrent($('current'), prop, drawn, lengthS());
  drawVoltage($('voltage'), prop, drawn, lengthS());
  if (film) film.draw($('film'), GUTTER, factor());
}

/// Numbers of the moment: not at every frame, they could not be read.
function words() {
  lastWords = performance.now();
  const at = `${timeS.toFixed(2)} s`;
  $('at').textContent = at;
  $('time').value = String(timeS);
  $('time').setAttribute('aria-valuetext', `${timeS.toFixed(1)} of ${lengthS().toFixed(0)} seconds`);
  const sheet = live ? live.sheet() : (drawn && drawn.head.estimate === true && drawn) || take;
  if (!sheet) return;
  const f = frameAt(sheet, timeS);
  const v = (name) => sheet.columns.get(name)?.[f] ?? NaN;
  legend($('current-legend'), [
    ...parts(sheet).map((name, k) => [partColour(k, name, prop.rest), null, name, amps(v(`part:${name}`))]),
    [css('--ink'), [], 'cell, average', amps(v('cell_a'))],
    [css('--ink'), PEAK_DASH, 'cell, coincidence peak', amps(v('cell_peak_a'))],
  ]);
  legend($('voltage-legend'), VOLTAGES.filter(([n]) => Number.isFinite(v(n))).map(([n, name, colour, dash]) => [css(colour), dash, name, volts(v(n))]));
  currents($('diagram'), prop.wires, v);
}

function everything() {
  drawLight();
  drawCharts();
  drawHead();
  words();
}

function tick(now) {
  if (!playing && !live) return;
  if (live) {
    live.pump(now, trouble);
    timeS = Math.max(0, live.due(now)) * (live.period || 0.02);
    if (live.full) stopLive();
  } else {
    timeS += Math.min(0.25, (now - lastTick) / 1000);
    if (timeS >= lengthS()) { timeS = lengthS(); pause(); }
  }
  lastTick = now;
  drawLight();
  drawHead();
  if (now - lastWords > 100) {
    words();
    if (live) { drawn = live.sheet(); drawCharts(); }
  }
  requestAnimationFrame(tick);
}

function goLabel() {
  $('go').textContent = playing ? 'Stop' : risky ? 'Play flashing light' : calm.matches ? 'Play (moving light)' : 'Play';
}
function play() {
  if (live) stopLive();
  if (timeS >= lengthS() - 1e-3) timeS = 0;
  playing = true;
  lastTick = performance.now();
  goLabel();
  requestAnimationFrame(tick);
}
function pause() {
  playing = false;
  goLabel();
  words();
  remember();
}
function seek(t) {
  if (live) stopLive();
  timeS = Math.max(0, Math.min(lengthS(), t));
  drawLight(); drawHead(); words(); remember();
}
const remember = () => { if (!live) toAddress(wish, prop, timeS); };

// ---- asking -------------------------------------------------------------------------------------------------------------

function trouble(error) {
  if (error.name === 'AbortError') return;
  if (error instanceof Faulty) { if (error.faults.length) showFaults($('faults'), error.faults, false); return; }
  if (error instanceof Gone) { showStopped(); return; }
  throw error;
}

async function quick() {
  if (quickBusy) { quickNext = true; return; }
  quickBusy = true;
  quickNext = false;
  const since = inputAt;
  const of = wish;
  try {
    const atS = timeS;
    const sheet = await askSheet('quick', { wish: of, at_s: atS });
    if (of.play !== wish.play || of.variant !== wish.variant) return;
    // Older than what is wished now, but newer than what is shown: still worth showing while a slider is dragged.
    if (!exact) {
      // Every frame may have come before its estimate: then the charts are better than that already.
      if (taken !== serial) drawn = placed(sheet);
      light = sheet.levels.length ? { cap: of.cap, atS, levels: sheet.levels } : null;
      // What reads sizes comes before what changes text: the page is laid out once.
      drawLight();
      drawCharts();
      results = merged(sheet.head.margins, results);
      showResults(true);
      words();
    }
    if (since) requestAnimationFrame(() => performance.measure('repaint', { start: since, end: performance.now() }));
  } catch (error) { trouble(error); } finally {
    quickBusy = false;
    if (quickNext) quick();
  }
}

async function full() {
  asked?.abort();
  const call = new AbortController();
  asked = call;
  const mine = serial;
  try {
    const sheet = await askSheet('play', wish, call.signal);
    if (mine !== serial) return;
    take = sheet;
    drawn = sheet;
    taken = mine;
    if (!live) film = new Film(prop, take, lengthS());
    $('shown').textContent = `${sheet.head.condition}; cap ${sheet.head.cap}.${sheet.head.whole ? '' : ` Only the first ${(sheet.frames * sheet.head.period_s).toFixed(0)} s are shown; margins are of the whole trace.`}`;
    timeS = Math.min(timeS, lengthS());
    if (!live) everything();
    const told = await ask('margins', wish, call.signal);
    if (mine !== serial) return;
    results = told.margins;
    exact = true;
    showResults(false);
    if (warm !== playKey()) { warm = playKey(); askSheet('quick', { wish, at_s: timeS }).catch(trouble); }
    safeCap(mine);
  } catch (error) { trouble(error); }
}

/// Names what is played, of which reading of the files.
const playKey = () => `${prop.generation}|${wish.variant}|${wish.play}`;

async function safeCap(mine) {
  const call = playKey();
  if (safe?.call === call) { showSafe(); return; }
  try {
    const told = await ask('cap', wish);
    if (playKey() !== call) return;
    safe = { ...told, call };
    showSafe();
  } catch (error) { if (mine === serial) trouble(error); }
}

function showSafe() {
  const known = safe && safe.call === playKey();
  $('take-safe').disabled = !known || !safe.cap || safe.cap === wish.cap;
  $('safe-mark').hidden = !known || !safe.cap;
  if (!known) { $('safe').textContent = 'Looking for the highest safe cap'; return; }
  if (!safe.cap) { $('safe').textContent = 'No cap makes it safe'; return; }
  const binds = safe.binding ? `, bound by ${safe.binding}${safe.part ? ` of ${safe.part}` : ''}` : '';
  const left = safe.not_mended ? `; ${safe.not_mended} failures that no cap mends` : '';
  $('safe').textContent = `Highest safe cap ${safe.cap}${binds}${left}`;
  // The middle of a range's thumb runs from half its width to half its width before the end.
  $('safe-mark').style.left = `calc(8px + (100% - 16px) * ${safe.cap / 255})`;
}

function showResults(estimate) {
  bearer.classList.toggle('estimate', estimate);
  const [verdict, text] = summary(results);
  const box = $('verdict');
  box.className = `verdict ${verdict}`;
  say(box, `${text}${estimate ? ' (estimate)' : ''}`);
  showMargins($('margins'), results, (t) => seek(t));
  const where = wish.over_set ? 'Worst over full and at the floor, cold and hot, aged, unfavourable' : 'At the setting alone';
  say($('margins-state'), estimate ? `${where}. Estimate from a digest; the whole trace is being played.` : `${where}, over the whole trace.`);
  const [risk, flash] = flashes(results);
  risky = risk;
  say($('flash'), flash);
  $('flash').classList.toggle('warn', risk);
  goLabel();
}

/// What is shown is no longer of what is wished.
function outdated(other) {
  serial += 1;
  exact = false;
  light = null;
  asked?.abort();
  // Margins that are an estimate already say so, for another setting just as well: a slider comes here at every move.
  if (other || !bearer.classList.contains('estimate')) say($('margins-state'), 'Being computed for the new setting.');
  bearer.classList.add('estimate');
  say($('shown'), 'Estimate: charts from a digest at the new setting; the light over time is scaled until every frame is drawn anew.');
}

/// A new wish: shown at once where the page knows enough, estimated next, computed in full when it stands still.
function want(next, { settled, since = 0 }) {
  const fresh = JSON.stringify(next) !== JSON.stringify(wish);
  const other = next.play !== wish.play || next.variant !== wish.variant;
  wish = next;
  if (settled) steps.push({ ...wish });
  if (live && fresh) stopLive();
  if (other) { pause(); timeS = 0; results = []; film = null; take = null; drawn = null; }
  if (fresh) {
    outdated(other);
    inputAt = since;
    // Asked first: the answer is computed while the page is being changed.
    if (!other) { quick(); drawLight(); }
    clearTimeout(settle);
    settle = setTimeout(full, other ? 0 : SETTLE_MS);
  }
  showWish();
  // While a slider is dragged the address waits: writing it takes longer than drawing the light.
  clearTimeout(written);
  if (settled) remember(); else written = setTimeout(remember, SETTLE_MS);
}

// ---- controls -----------------------------------------------------------------------------------------------------------

function showWish() {
  const set = (id, value) => { if ($(id).value !== String(value)) $(id).value = String(value); };
  set('play-choice', wish.play);
  set('variant', wish.variant ?? '');
  set('cap', wish.cap);
  $('cap-value').textContent = String(wish.cap);
  set('soc', Math.round(wish.soc * 100));
  $('soc-value').textContent = `${Math.round(wish.soc * 100)} %`;
  set('celsius', wish.celsius);
  $('celsius-value').textContent = `${wish.celsius} °C`;
  $('aged').checked = wish.aged;
  $('cautious').checked = wish.cautious;
  $('over-set').checked = wish.over_set;
  $('over-one').checked = !wish.over_set;
  $('undo').disabled = !steps.canUndo;
  $('redo').disabled = !steps.canRedo;
  $('time').max = String(lengthS());
  $('live').disabled = !prop.plays[wish.play]?.live;
  showSafe();
}

function wire() {
  const read = () => ({
    ...wish, cap: Number($('cap').value), soc: Number($('soc').value) / 100, celsius: Number($('celsius').value),
    aged: $('aged').checked, cautious: $('cautious').checked, over_set: $('over-set').checked,
  });
  for (const id of ['cap', 'soc', 'celsius']) {
    $(id).addEventListener('input', (e) => want(read(), { settled: false, since: e.timeStamp }));
    $(id).addEventListener('change', () => want(read(), { settled: true }));
  }
  for (const id of ['aged', 'cautious', 'over-set', 'over-one']) $(id).addEventListener('change', () => want(read(), { settled: true }));
  $('play-choice').addEventListener('change', () => want({ ...wish, play: Number($('play-choice').value) }, { settled: true }));
  $('variant').addEventListener('change', async () => {
    const variant = $('variant').value || null;
    try { prop = await ask('prop', { variant }); } catch (error) { showWish(); trouble(error); return; }
    safe = null;
    showProp();
    want({ ...wish, variant, play: Math.min(wish.play, prop.plays.length - 1) }, { settled: true });
  });
  $('take-safe').addEventListener('click', () => want({ ...wish, cap: safe.cap }, { settled: true }));
  const back = async (next) => {
    if (next.variant !== wish.variant) { prop = await ask('prop', { variant: next.variant }); showProp(); }
    want({ ...next }, { settled: false });
  };
  $('undo').addEventListener('click', () => back(steps.undo()).catch(trouble));
  $('redo').addEventListener('click', () => back(steps.redo()).catch(trouble));
  $('go').addEventListener('click', () => (playing ? pause() : play()));
  $('time').addEventListener('input', () => seek(Number($('time').value)));
  // Within a report the keys are the page's only while it has the focus.
  (carried ? bearer : window).addEventListener('keydown', (e) => {
    const field = e.target.closest('input, select, button, summary, a');
    if (e.key === ' ' && (!field || field.type === 'range')) { e.preventDefault(); if (playing) pause(); else play(); }
    if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === 'z') { e.preventDefault(); $(e.shiftKey ? 'redo' : 'undo').click(); }
    if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === 'y') { e.preventDefault(); $('redo').click(); }
  });
  const plot = $('plot');
  const point = (e) => {
    const box = plot.getBoundingClientRect();
    seek(((e.clientX - box.left - GUTTER) / (box.width - GUTTER)) * lengthS());
  };
  plot.addEventListener('pointerdown', (e) => { plot.setPointerCapture(e.pointerId); if (playing) pause(); point(e); });
  plot.addEventListener('pointermove', (e) => { if (e.buttons & 1) point(e); });
  addEventListener('hashchange', () => { if (!location.hash.includes('=')) return; const next = fromAddress(location.hash, prop); timeS = timeInAddress(location.hash); want(next, { settled: true }); seek(timeS); });
  new ResizeObserver(() => { if (prop) { drawLight(); drawCharts(); drawHead(); } }).observe($('plot'));
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', everything);
  calm.addEventListener('change', goLabel);
  $('live').addEventListener('click', () => (live ? stopLive() : startLive()));
  $('strength').addEventListener('input', () => { $('strength-value').textContent = `${$('strength').value} %`; });
  for (const kind of CUES) {
    const b = document.createElement('button');
    b.type = 'button';
    b.className = 'quiet';
    b.textContent = kind.replace('-', ' ');
    b.dataset.cue = kind;
    b.disabled = true;
    const share = () => Number($('strength').value) / 100;
    b.addEventListener('click', () => live?.cue(kind, kind === 'twist' ? share() * 180 : share()));
    $('cues').append(b);
  }
}

async function startLive() {
  pause();
  const one = new Live({ ...wish });
  try { await one.start(); } catch (error) { trouble(error); return; }
  live = one;
  film = null;
  $('film').getContext('2d').clearRect(0, 0, $('film').width, $('film').height);
  $('live').textContent = 'Stop';
  $('live-state').textContent = 'Playing: press a cue';
  root.querySelectorAll('#cues button').forEach((b) => { b.disabled = false; });
  $('time').max = String(lengthS());
  requestAnimationFrame(tick);
}

function stopLive() {
  if (!live) return;
  live.stop();
  live = null;
  timeS = 0;
  drawn = take;
  if (take) film = new Film(prop, take, lengthS());
  $('live').textContent = 'Start';
  $('live-state').textContent = 'Stopped; the cue trace is shown again';
  root.querySelectorAll('#cues button').forEach((b) => { b.disabled = true; });
  $('time').max = String(lengthS());
  everything();
}

// ---- the prop -----------------------------------------------------------------------------------------------------------

function showStopped() {
  const box = $('stopped');
  if (!box.hidden) return;
  pause();
  stopLive();
  box.replaceChildren(node('h2', 'The program has stopped'), node('p', 'What is shown is the last it gave. Start lampwright view again and open the new address.'));
  box.hidden = false;
}

function showProp() {
  if (!carried) document.title = `${prop.name} · Lampwright`;
  $('name').textContent = prop.name;
  $('play-choice').replaceChildren(...prop.plays.map((p, k) => new Option(playName(p).replace('~', ' · '), String(k))));
  $('variant-field').hidden = prop.variants.length === 0;
  $('variant').replaceChildren(new Option('as it stands', ''), ...prop.variants.map((v) => new Option(v, v)));
  // The diagram is made by the program from escaped text; parsed as XML it cannot run anything.
  const svg = new DOMParser().parseFromString(prop.diagram, 'image/svg+xml').documentElement;
  $('diagram').replaceChildren(document.importNode(svg, true));
  $('findings').replaceChildren(...prop.findings.map((f) => {
    const item = node('li');
    item.append(node('b', `${f.severity} `, f.severity === 'advice' ? 'tone tight' : 'tone fails'), `${f.id}: ${f.message}`, node('p', `${f.why}. ${f.mend}`, 'note'));
    return item;
  }));
  $('findings-box').hidden = prop.findings.length === 0;
  $('cautions').replaceChildren(...prop.cautions.map((c) => node('li', c)));
  showFaults($('faults'), prop.faults, true);
}

async function follow() {
  for (;;) {
    try {
      const told = await ask('wait', { generation: prop.generation });
      if (told.generation === prop.generation) continue;
      const before = playName(prop.plays[wish.play] ?? { cues: '' });
      const next = await ask('prop', { variant: wish.variant });
      const changed = next.faults.length === 0;
      prop = next;
      showProp();
      const same = prop.plays.findIndex((p) => playName(p) === before);
      wish = { ...wish, play: Math.max(0, same) };
      if (same < 0) { results = []; timeS = 0; }
      showWish();
      if (changed) { outdated(true); safe = null; showSafe(); full(); }
    } catch (error) {
      trouble(error);
      if (error instanceof Gone) return;
      await new Promise((done) => { setTimeout(done, 1000); });
    }
  }
}

async function begin() {
  try {
    prop = await ask('prop', { variant: null });
    const variant = fromAddress(location.hash, prop).variant;
    if (variant) prop = await ask('prop', { variant });
  } catch (error) { trouble(error); return; }
  wish = fromAddress(location.hash, prop);
  steps = new Steps({ ...wish });
  timeS = timeInAddress(location.hash);
  showProp();
  showWish();
  wire();
  drawLight();
  full();
  follow();
}

if (carried) {
  root.querySelector('.name').hidden = true;
  root.querySelector('footer').hidden = true;
  root.querySelector('.skip').hidden = true;
}
/// The page begins where its engine can run.
export const begun = (async () => {
  await ready();
  await begin();
})();
