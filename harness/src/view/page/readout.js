// Numbers at the play head: in the legends and on the wiring diagram.

/// The frame that is shown at a time: the last that begins at or before it.
export function frameAt(sheet, t) {
  const times = sheet.columns.get('time_s');
  // Times are 32-bit floats: a moment named by a margin may lie a hair before its frame as rounded.
  const until = t + 1e-4 + t * 1e-7;
  let low = 0;
  let high = sheet.frames - 1;
  while (low < high) {
    const mid = (low + high + 1) >> 1;
    if (times[mid] <= until) low = mid; else high = mid - 1;
  }
  return low;
}

/// An estimate's frames each stand for a run: they are drawn where the run begins, one after the other.
export function placed(sheet) {
  const times = sheet.columns.get('time_s');
  let at = 0;
  sheet.columns.get('length_s').forEach((length, k) => { times[k] = at; at += length; });
  return sheet;
}

/// Sets a text that is not there yet: the same one again would have the page laid out anew.
export const say = (element, text) => { if (element.textContent !== text) element.textContent = text; };

export const amps = (v) => (Number.isFinite(v) ? (Math.abs(v) < 0.0995 ? `${(v * 1000).toFixed(0)} mA` : `${v.toFixed(2)} A`) : '–');
export const volts = (v) => (Number.isFinite(v) ? `${v.toFixed(2)} V` : '–');

export function legend(list, rows) {
  while (list.children.length > rows.length * 3) list.lastElementChild.remove();
  while (list.children.length < rows.length * 3) {
    const swatch = document.createElement('dd');
    swatch.append(document.createElement('span'));
    list.append(swatch, document.createElement('dt'), document.createElement('dd'));
  }
  // An area has no dash; a line has its own, none where it is whole.
  rows.forEach(([colour, dash, name, value], k) => {
    const [swatch, dt, dd] = [0, 1, 2].map((i) => list.children[k * 3 + i]);
    const s = swatch.firstElementChild;
    s.className = `swatch${dash ? ' line' : ''}`;
    const [on, off] = dash ?? [];
    s.style.background = on ? `repeating-linear-gradient(90deg, ${colour} 0 ${on}px, transparent ${on}px ${on + off}px)` : colour;
    say(dt, name);
    say(dd, value);
  });
}

/// Writes the currents of the moment on the wires; `v` gives the value of a column.
export function currents(root, wires, v) {
  wires.forEach((name, k) => {
    const a = v(`wire:${k}`);
    const reading = root.querySelector(`.reading-${k} text`);
    if (!reading) return;
    say(reading, amps(Math.abs(a)));
    const line = root.querySelector(`.wire-${k} polyline`);
    if (line) line.style.strokeWidth = `${(1.2 + Math.min(4, Math.abs(a) || 0) * 1.3).toFixed(2)}px`;
  });
}
