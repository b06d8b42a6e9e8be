// Answers: JSON, or a sheet: a JSON head, columns of floats, drive levels.
export class Faulty extends Error {
  constructor(faults) { super(faults[0]?.message ?? 'refused'); this.faults = faults; }
}
export class Gone extends Error {}

export function sheet(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  let at = 4 + length;
  const columns = new Map();
  for (const name of head.columns) {
    columns.set(name, new Float32Array(buffer, at, head.frames));
    at += head.frames * 4;
  }
  return { head, frames: head.frames, columns, levels: new Uint8Array(buffer, at) };
}
