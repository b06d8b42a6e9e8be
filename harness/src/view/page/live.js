// Playing by hand: frames come from the program a little ahead of what is shown, cues go out with the next request.
import { ask, askSheet } from './server.js';

const AHEAD_S = 0.08;
const MOST_S = 180;
export const CUES = ['short-press', 'long-press', 'double-press', 'knock', 'swing', 'twist', 'level', 'low-cell'];

export class Live {
  constructor(wish) {
    this.wish = wish;
    this.cues = [];
    this.pieces = [];
    this.frames = 0;
    this.over = false;
    this.asking = false;
  }

  async start() {
    this.id = (await ask('live/start', this.wish)).id;
    await this.fetch(2);
    this.period = this.pieces[0].head.period_s;
    this.from = performance.now();
  }

  cue(kind, value) { this.cues.push({ kind, value }); }

  async fetch(frames) {
    const cues = this.cues.splice(0);
    const piece = await askSheet('live/step', { id: this.id, cues, frames });
    this.pieces.push(piece);
    this.frames += piece.frames;
  }

  /// The frame that is due, and a request for more where little is left.
  async pump(now, failed) {
    const due = Math.floor((now - this.from) / 1000 / this.period);
    const want = due + Math.ceil(AHEAD_S / this.period) - this.frames;
    if (want > 0 && !this.asking && !this.over) {
      this.asking = true;
      try { await this.fetch(Math.min(240, want)); } catch (error) { failed(error); } finally { this.asking = false; }
    }
  }

  due(now) { return Math.min(this.frames - 1, Math.floor((now - this.from) / 1000 / this.period)); }
  get full() { return this.frames * this.period >= MOST_S; }

  stop() {
    this.over = true;
    ask('live/step', { id: this.id, cues: [], frames: 0 }).catch(() => {});
  }

  /// All that was played, as one sheet.
  sheet() {
    const first = this.pieces[0];
    const columns = new Map([...first.columns.keys()].map((name) => {
      const all = new Float32Array(this.frames);
      let at = 0;
      for (const p of this.pieces) { all.set(p.columns.get(name), at); at += p.frames; }
      return [name, all];
    }));
    const levels = new Uint8Array(this.frames * first.head.frame_len);
    let at = 0;
    for (const p of this.pieces) { levels.set(p.levels, at); at += p.levels.length; }
    const joined = { head: { ...first.head, frames: this.frames, cap: this.wish.cap }, frames: this.frames, columns, levels };
    this.pieces = [joined];
    return joined;
  }
}
