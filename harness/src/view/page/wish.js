// The state of the page: kept in the address, with steps back.
const KEYS = { variant: 'variant', play: 'play', cap: 'cap', soc: 'soc', celsius: 'celsius', aged: 'aged', cautious: 'cautious', over: 'over' };

const number = (text, low, high, fallback) => {
  const value = text === null || text === '' ? NaN : Number(text);
  return Number.isFinite(value) ? Math.min(high, Math.max(low, value)) : fallback;
};

/// What a play is called in the address.
export const playName = (p) => `${p.preset ?? 'recorded'}~${p.cues}`;

/// Reads a wish from the address; what is missing or wrong there is as the build has it.
export function fromAddress(hash, prop) {
  const q = new URLSearchParams(hash.replace(/^#/, ''));
  const named = prop.plays.findIndex((p) => playName(p) === q.get(KEYS.play));
  const variant = q.get(KEYS.variant);
  return {
    variant: prop.variants.includes(variant) ? variant : prop.variant ?? null,
    play: Math.max(0, named),
    cap: Math.round(number(q.get(KEYS.cap), 0, 255, prop.cap)),
    soc: number(q.get(KEYS.soc), 0, 100, 60) / 100,
    celsius: number(q.get(KEYS.celsius), -20, 60, 25),
    aged: q.get(KEYS.aged) === '1',
    cautious: q.get(KEYS.cautious) === '1',
    over_set: q.get(KEYS.over) !== 'one',
  };
}

/// Writes it there, with the play head where it is not at the start.
export function toAddress(wish, prop, timeS) {
  const q = new URLSearchParams();
  if (wish.variant) q.set(KEYS.variant, wish.variant);
  if (prop.plays[wish.play]) q.set(KEYS.play, playName(prop.plays[wish.play]));
  q.set(KEYS.cap, String(wish.cap));
  q.set(KEYS.soc, String(Math.round(wish.soc * 100)));
  q.set(KEYS.celsius, String(wish.celsius));
  if (wish.aged) q.set(KEYS.aged, '1');
  if (wish.cautious) q.set(KEYS.cautious, '1');
  if (!wish.over_set) q.set(KEYS.over, 'one');
  if (timeS > 0) q.set('at', timeS.toFixed(2));
  history.replaceState(null, '', `#${q}`);
}

export const timeInAddress = (hash) => number(new URLSearchParams(hash.replace(/^#/, '')).get('at'), 0, 1e9, 0);

/// Steps back and forth between settled wishes.
export class Steps {
  constructor(first) { this.list = [first]; this.at = 0; }
  get now() { return this.list[this.at]; }
  get canUndo() { return this.at > 0; }
  get canRedo() { return this.at + 1 < this.list.length; }
  push(wish) {
    if (JSON.stringify(wish) === JSON.stringify(this.now)) return;
    this.list.length = this.at + 1;
    this.list.push(wish);
    if (this.list.length > 200) this.list.shift();
    this.at = this.list.length - 1;
  }
  undo() { if (this.canUndo) this.at -= 1; return this.now; }
  redo() { if (this.canRedo) this.at += 1; return this.now; }
}
