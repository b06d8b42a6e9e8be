// Asking the program. Every answer is JSON, or a sheet: a JSON head, columns of floats, drive levels.
export class Faulty extends Error {
  constructor(faults) { super(faults[0]?.message ?? 'refused'); this.faults = faults; }
}
export class Gone extends Error {}

async function send(path, body, signal) {
  let answer;
  try {
    answer = await fetch(`api/${path}`, {
      method: 'POST', signal, headers: { 'content-type': 'application/json' }, body: JSON.stringify(body),
    });
  } catch (error) {
    if (error.name === 'AbortError') throw error;
    throw new Gone('no answer');
  }
  if (answer.ok) return answer;
  if (answer.status === 422 || answer.status === 409) throw new Faulty((await answer.json()).faults);
  throw new Gone(`refused: ${answer.status}`);
}

export const ask = async (path, body, signal) => (await send(path, body, signal)).json();
export const askSheet = async (path, body, signal) => sheet(await (await send(path, body, signal)).arrayBuffer());

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
