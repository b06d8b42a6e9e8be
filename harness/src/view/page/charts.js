// Currents stacked by part and voltages with their limits, on one axis of time. Drawn when data change; the play head
// is an element of its own, so that playing draws no chart again.
import { fit } from './light.js';
import { css } from './place.js';

export const GUTTER = 52;

const nice = (span, count) => {
  const raw = span / Math.max(1, count);
  const power = 10 ** Math.floor(Math.log10(raw));
  return [1, 2, 5, 10].map((k) => k * power).find((s) => s >= raw) ?? raw;
};

/// Spreads a column over slices of the axis: its mean, least and most in each; NaN where nothing is known.
function slices(sheet, name, lengthS, width) {
  const values = sheet.columns.get(name);
  const time = sheet.columns.get('time_s');
  const last = sheet.columns.get('length_s');
  const sum = new Float64Array(width);
  const weight = new Float64Array(width);
  const least = new Float64Array(width).fill(Infinity);
  const most = new Float64Array(width).fill(-Infinity);
  for (let i = 0; i < sheet.frames; i += 1) {
    const v = values[i];
    if (Number.isNaN(v)) continue;
    const from = Math.max(0, Math.floor((time[i] / lengthS) * width));
    const to = Math.min(width - 1, Math.max(from, Math.ceil(((time[i] + last[i]) / lengthS) * width) - 1));
    for (let x = from; x <= to; x += 1) {
      sum[x] += v * last[i]; weight[x] += last[i];
      if (v < least[x]) least[x] = v;
      if (v > most[x]) most[x] = v;
    }
  }
  const mean = sum.map((s, x) => (weight[x] > 0 ? s / weight[x] : NaN));
  return { mean, least, most };
}

function axes(canvas, low, high, unit, lengthS, bottom) {
  const scale = fit(canvas, canvas.clientHeight);
  const c = canvas.getContext('2d');
  const left = GUTTER * scale;
  const top = 22 * scale;
  const base = canvas.height - (bottom ? 24 : 8) * scale;
  const y = (v) => base - ((v - low) / (high - low)) * (base - top);
  c.clearRect(0, 0, canvas.width, canvas.height);
  c.font = `${12 * scale}px system-ui, sans-serif`;
  c.textBaseline = 'middle';
  c.lineWidth = scale;
  const step = nice(high - low, canvas.clientHeight / 45);
  c.textAlign = 'right';
  for (let v = Math.ceil(low / step) * step; v <= high + step * 1e-6; v += step) {
    c.strokeStyle = css('--line');
    c.beginPath(); c.moveTo(left, y(v)); c.lineTo(canvas.width, y(v)); c.stroke();
    c.fillStyle = css('--muted');
    c.fillText(v.toFixed(step < 0.1 ? 2 : step < 1 ? 1 : 0), left - 6 * scale, y(v));
  }
  c.textAlign = 'left';
  c.fillText(unit, 4 * scale, 9 * scale);
  if (bottom) {
    const every = nice(lengthS, canvas.clientWidth / 90);
    c.textAlign = 'center';
    for (let t = 0; t <= lengthS; t += every) {
      const x = left + (t / lengthS) * (canvas.width - left);
      c.fillText(`${+t.toFixed(2)} s`, Math.min(x, canvas.width - 18 * scale), base + 13 * scale);
    }
  }
  return { c, scale, left, y, base, width: Math.max(1, Math.round(canvas.width - left)) };
}

/// Whether a slice lies within a level stretch: a path needs its ends alone, and a dashed one of many points is dear.
const within = (values, x) => values[x] === values[x - 1] && values[x] === values[x + 1];

function line(a, values, colour, dash, weight) {
  const { c, scale, left, y } = a;
  c.strokeStyle = colour;
  c.lineWidth = weight * scale;
  c.setLineDash(dash.map((d) => d * scale));
  c.beginPath();
  let down = false;
  for (let x = 0; x < values.length; x += 1) {
    if (!Number.isFinite(values[x])) { down = false; continue; }
    if (down && within(values, x)) continue;
    if (down) c.lineTo(left + x, y(values[x])); else c.moveTo(left + x, y(values[x]));
    down = true;
  }
  c.stroke();
  c.setLineDash([]);
}

function limits(a, list, low, high) {
  const { c, scale, left, y } = a;
  let last = -Infinity;
  for (const l of [...list].sort((p, q) => q.value - p.value)) {
    if (l.value < low || l.value > high) continue;
    const at = y(l.value);
    line(a, Array(a.width).fill(l.value), css('--limit'), [8, 3, 2, 3], 1.2);
    const words = `${l.name} ${l.value.toFixed(2)}`;
    const place = Math.max(at - 7 * scale, last + 13 * scale);
    last = place;
    c.textAlign = 'right';
    const wide = c.measureText(words).width + 6 * scale;
    c.fillStyle = css('--card');
    c.globalAlpha = 0.85;
    c.fillRect(left + a.width - wide - 2 * scale, place - 7 * scale, wide, 14 * scale);
    c.globalAlpha = 1;
    c.fillStyle = css('--limit');
    c.fillText(words, left + a.width - 5 * scale, place);
  }
}

export const partColour = (k, name, rest) => css(name === rest ? '--part-rest' : `--part-${k % 6}`);
export const parts = (sheet) => [...sheet.columns.keys()].filter((n) => n.startsWith('part:')).map((n) => n.slice(5));

const most = (values) => values.reduce((m, v) => (Number.isFinite(v) && v > m ? v : m), 0);

export const PEAK_DASH = [3, 2];

export function drawCurrent(canvas, prop, sheet, lengthS) {
  const width = Math.max(1, Math.round((canvas.clientWidth - GUTTER) * (window.devicePixelRatio || 1)));
  const peak = slices(sheet, 'cell_peak_a', lengthS, width).most;
  const top = most(peak);
  // A limit far above the current would flatten it; it is then left to the margins.
  const near = prop.current_limits.filter((l) => l.value < 2.2 * top).map((l) => l.value);
  const high = Math.max(top, ...near, 0.05) * 1.08;
  const a = axes(canvas, 0, high, 'A', lengthS, false);
  let under = new Float64Array(width);
  parts(sheet).forEach((name, k) => {
    const own = slices(sheet, `part:${name}`, lengthS, width).mean;
    const over = under.map((u, x) => u + Math.max(0, own[x] || 0));
    a.c.fillStyle = partColour(k, name, prop.rest);
    a.c.beginPath();
    a.c.moveTo(a.left, a.y(under[0]));
    for (let x = 0; x < width; x += 1) if (!within(over, x)) a.c.lineTo(a.left + x, a.y(over[x]));
    for (let x = width - 1; x >= 0; x -= 1) if (!within(under, x)) a.c.lineTo(a.left + x, a.y(under[x]));
    a.c.fill();
    under = over;
  });
  line(a, under, css('--ink'), [], 1);
  line(a, peak, css('--ink'), PEAK_DASH, 1.2);
  limits(a, prop.current_limits, 0, high);
  canvas.setAttribute('aria-label', `Current over time: average up to ${most(under).toFixed(2)} A, coincidence peak up to ${top.toFixed(2)} A`);
}

export const VOLTAGES = [
  ['cell_v', 'cell, average', '--volt-0', []],
  ['cell_peak_v', 'cell, at the peak', '--volt-1', [5, 2]],
  ['board_peak_v', 'board supply, at the peak', '--volt-2', []],
  ['pixel_min_v', 'worst pixel supply', '--volt-3', [2, 2]],
];

export function drawVoltage(canvas, prop, sheet, lengthS) {
  const width = Math.max(1, Math.round((canvas.clientWidth - GUTTER) * (window.devicePixelRatio || 1)));
  const lines = VOLTAGES.map(([name]) => {
    const s = slices(sheet, name, lengthS, width);
    return name === 'cell_v' ? s.mean : s.least.map((v) => (Number.isFinite(v) ? v : NaN));
  });
  const known = lines.flatMap((l) => [...l]).filter(Number.isFinite);
  const values = [...known, ...prop.voltage_limits.map((l) => l.value)];
  const low = Math.min(...(values.length ? [values.reduce((m, v) => Math.min(m, v), Infinity)] : [0]));
  const high = Math.max(values.reduce((m, v) => Math.max(m, v), -Infinity), low + 0.1);
  const pad = (high - low) * 0.08;
  const a = axes(canvas, low - pad, high + pad, 'V', lengthS, true);
  lines.forEach((l, k) => line(a, l, css(VOLTAGES[k][2]), VOLTAGES[k][3], 1.6));
  limits(a, prop.voltage_limits, low - pad, high + pad);
  const least = (l) => l.reduce((m, v) => (v < m ? v : m), Infinity);
  canvas.setAttribute('aria-label', `Voltages over time: ${VOLTAGES.map(([, words], k) => (Number.isFinite(least(lines[k])) ? `${words} down to ${least(lines[k]).toFixed(2)} V` : '')).filter(Boolean).join(', ')}`);
}
