// Margins, the worst first; each leads to its frame. Rows are kept and changed in place, so that focus and place stay.
import { say } from './readout.js';

const SIGN = { fails: '✕', tight: '!', holds: '✓', 'not-checked': '?' };
const WORD = { fails: 'fails', tight: 'tight', holds: 'holds', 'not-checked': 'not checked' };

export const figure = (v) => {
  if (v === null || v === undefined || !Number.isFinite(v)) return 'no value';
  const digits = v === 0 ? 0 : Math.min(6, Math.max(0, 3 - Math.floor(Math.log10(Math.abs(v)))));
  const text = v.toFixed(digits);
  return text.includes('.') ? text.replace(/\.?0+$/, '') : text;
};

const rank = { fails: 0, tight: 1, 'not-checked': 2, holds: 3 };
const key = (r) => `${r.id}|${(r.part ?? '').split('[')[0]}|${r.unit}`;

/// An estimate lacks checks that need every frame: they stay as they were, behind a mark.
export function merged(estimate, before) {
  const known = new Set(estimate.map(key));
  const old = before.filter((r) => !known.has(key(r))).map((r) => ({ ...r, old: true }));
  const share = (r) => (r.margin_share ?? Infinity);
  return [...estimate, ...old].sort((a, b) => rank[a.verdict] - rank[b.verdict] || share(a) - share(b));
}

function row(list, k, seek) {
  if (list.children[k]) return list.children[k].firstElementChild;
  const button = document.createElement('button');
  button.type = 'button';
  for (const [tag, name] of [['span', 'what'], ['span', 'share'], ['span', 'bar'], ['span', 'figures']]) {
    const e = document.createElement(tag);
    e.className = name;
    button.append(e);
  }
  button.querySelector('.bar').append(document.createElement('i'));
  button.addEventListener('click', () => { if (button.dataset.time) seek(Number(button.dataset.time), button); });
  const item = document.createElement('li');
  item.append(button);
  list.append(item);
  return button;
}

export function showMargins(list, results, seek) {
  results.forEach((r, k) => {
    const b = row(list, k, seek);
    const time = r.time_s ?? '';
    const share = r.margin_share === null || r.margin_share === undefined ? '' : `${r.margin_share >= 0 ? '+' : '−'}${Math.abs(r.margin_share * 100).toFixed(0)} %`;
    const figures = r.limit === null || r.worst === null
      ? r.why
      : `${figure(r.worst)} of ${figure(r.limit)} ${r.unit}${r.time_s === null ? '' : ` · at ${r.time_s.toFixed(2)} s`}${r.condition ? ` · ${r.condition}` : ''}${r.old ? ' · not yet counted again' : ''}`;
    b.className = r.verdict;
    b.dataset.time = String(time);
    b.dataset.check = r.id;
    b.disabled = time === '';
    const set = (name, text) => say(b.querySelector(name), text);
    set('.what', `${SIGN[r.verdict]} ${r.id}${r.part ? ` · ${r.part}` : ''}`);
    set('.share', share || WORD[r.verdict]);
    set('.figures', `${WORD[r.verdict]} · ${figures}`);
    const used = r.margin_share === null || r.margin_share === undefined ? 0 : Math.min(1.5, Math.max(0, 1 - r.margin_share));
    b.querySelector('.bar').hidden = !share;
    b.querySelector('i').style.width = `${(used / 1.5) * 100}%`;
  });
  while (list.children.length > results.length) list.lastElementChild.remove();
}

export function summary(results) {
  const count = (v) => results.filter((r) => r.verdict === v).length;
  const fails = count('fails');
  if (fails) return ['fails', `✕ ${fails} of ${results.length} margins fail`];
  const tight = count('tight');
  if (tight) return ['tight', `! holds; ${tight} of ${results.length} margins are tight`];
  return ['holds', `✓ all ${count('holds')} margins that could be checked hold`];
}

/// What must be said of flashes before anyone presses play.
export function flashes(results) {
  const all = results.filter((r) => r.id === 'flash-rate' && r.worst !== null && r.limit !== null);
  if (!all.length) return [true, 'Flashes were not counted: play with care.'];
  const most = all.reduce((m, r) => (r.worst > m.worst ? r : m));
  if (most.worst > most.limit) return [true, `Warning: flashing light, up to ${figure(most.worst)} flashes in a second (limit ${figure(most.limit)}). It can trigger seizures.`];
  if (most.worst > 0) return [false, `It flashes: up to ${figure(most.worst)} in a second (limit ${figure(most.limit)}).`];
  return [false, 'No flashes were found after the definition of WCAG 2.2.'];
}
