// Light true to the eye: a drive level is a share of light, and a screen wants it as sRGB (IEC 61966-2-1).
import { css } from './place.js';

const STEPS = 4095;
const SRGB = new Uint8ClampedArray(STEPS + 1);
for (let i = 0; i <= STEPS; i += 1) {
  const l = i / STEPS;
  SRGB[i] = Math.round(255 * (l <= 0.0031308 ? 12.92 * l : 1.055 * l ** (1 / 2.4) - 0.055));
}
export const srgb = (light) => SRGB[Math.min(STEPS, Math.max(0, Math.round(light * STEPS)))];

/// Light of a pixel, red, green and blue 0..1; white adds to each, and what is beyond 1 is scaled back by hue.
function pixel(levels, at, channels, factor, out) {
  const white = channels > 3 ? levels[at + 3] : 0;
  const k = factor / 255;
  out[0] = (levels[at] + white) * k;
  out[1] = (levels[at + 1] + white) * k;
  out[2] = (levels[at + 2] + white) * k;
  const most = Math.max(out[0], out[1], out[2], 1);
  out[0] /= most; out[1] /= most; out[2] /= most;
}

function fit(canvas, height) {
  const scale = window.devicePixelRatio || 1;
  const w = Math.max(1, Math.round(canvas.clientWidth * scale));
  const h = Math.max(1, Math.round(height * scale));
  if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
  return scale;
}

const rgb = [0, 0, 0];

/// Draws every strip in real proportions: lengths by pixel pitch, where all strips state one, else by pixels.
export function drawStrips(canvas, prop, levels, frame, frameLen, factor) {
  const pitched = prop.strips.every((s) => s.pitch_m > 0 || s.pixels === 1);
  const some = Math.min(...prop.strips.filter((s) => s.pitch_m > 0).map((s) => s.pitch_m));
  const pitch = (s) => (pitched && Number.isFinite(some) ? s.pitch_m || some : 1);
  const longest = Math.max(...prop.strips.map((s) => s.pixels * pitch(s)), 1e-9);
  const line = 52;
  canvas.style.height = `${Math.max(1, prop.strips.length) * line}px`;
  const scale = fit(canvas, Math.max(1, prop.strips.length) * line);
  const c = canvas.getContext('2d');
  c.fillStyle = '#0b0a08';
  c.fillRect(0, 0, canvas.width, canvas.height);
  c.font = `${12 * scale}px system-ui, sans-serif`;
  prop.strips.forEach((s, k) => {
    const top = k * line * scale;
    const step = (canvas.width / longest) * pitch(s);
    const length = s.pitch_m ? ` · ${Math.round(s.pixels * s.pitch_m * 1000)} mm` : '';
    c.fillStyle = '#b7ae9f';
    c.fillText(`${s.name} · ${s.pixels} pixel${s.pixels === 1 ? '' : 's'}${length}`, 0, top + 12 * scale);
    const size = Math.min(step * 0.86, 20 * scale);
    for (let p = 0; p < s.pixels; p += 1) {
      rgb.fill(0);
      if (levels && frame >= 0) pixel(levels, frame * frameLen + (s.first + p) * prop.channels, prop.channels, factor, rgb);
      c.fillStyle = `rgb(${srgb(rgb[0])} ${srgb(rgb[1])} ${srgb(rgb[2])})`;
      c.fillRect(p * step + (step - size) / 2, top + 19 * scale, size, 24 * scale);
    }
  });
}

/// The mean light of every pixel in each of some slices of time.
export class Film {
  constructor(prop, sheet, lengthS, slices = 900) {
    const time = sheet.columns.get('time_s');
    const pixels = prop.strips.reduce((n, s) => n + s.pixels, 0);
    this.width = slices;
    this.height = Math.max(1, pixels);
    this.light = new Float32Array(this.width * this.height * 3);
    const count = new Uint32Array(slices);
    const length = sheet.head.frame_len;
    for (let f = 0; f < sheet.frames; f += 1) {
      const x = Math.min(slices - 1, Math.floor((time[f] / lengthS) * slices));
      count[x] += 1;
      let row = 0;
      for (const s of prop.strips) {
        for (let p = s.pixels - 1; p >= 0; p -= 1, row += 1) {
          pixel(sheet.levels, f * length + (s.first + p) * prop.channels, prop.channels, 1, rgb);
          const at = (row * slices + x) * 3;
          this.light[at] += rgb[0]; this.light[at + 1] += rgb[1]; this.light[at + 2] += rgb[2];
        }
      }
    }
    // A slice in which no frame begins shows the frame before it.
    for (let x = 0; x < slices; x += 1) {
      for (let row = 0; row < this.height; row += 1) {
        const at = (row * slices + x) * 3;
        for (let k = 0; k < 3; k += 1) {
          if (count[x]) this.light[at + k] /= count[x];
          else if (x > 0) this.light[at + k] = this.light[at - 3 + k];
        }
      }
    }
    this.strips = prop.strips;
    this.canvas = document.createElement('canvas');
    this.canvas.width = this.width;
    this.canvas.height = this.height;
    this.image = new ImageData(this.width, this.height);
  }

  draw(canvas, gutter, factor) {
    const data = this.image.data;
    for (let i = 0, j = 0; i < this.light.length; i += 3, j += 4) {
      data[j] = srgb(this.light[i] * factor);
      data[j + 1] = srgb(this.light[i + 1] * factor);
      data[j + 2] = srgb(this.light[i + 2] * factor);
      data[j + 3] = 255;
    }
    this.canvas.getContext('2d').putImageData(this.image, 0, 0);
    const scale = fit(canvas, canvas.clientHeight);
    const c = canvas.getContext('2d');
    c.clearRect(0, 0, canvas.width, canvas.height);
    c.imageSmoothingEnabled = false;
    c.drawImage(this.canvas, gutter * scale, 0, canvas.width - gutter * scale, canvas.height);
    this.names(c, gutter, scale);
  }

  /// The name of each strip that is high enough for one, in the gutter beside it.
  names(c, gutter, scale) {
    c.fillStyle = css('--muted');
    c.font = `${11 * scale}px system-ui, sans-serif`;
    c.textBaseline = 'middle';
    let row = 0;
    for (const s of this.strips) {
      const high = (s.pixels / this.height) * c.canvas.height;
      const y = (row / this.height) * c.canvas.height + high / 2;
      if (high >= 12 * scale) c.fillText(s.name, 2 * scale, y, (gutter - 6) * scale);
      row += s.pixels;
    }
  }
}
export { fit };
