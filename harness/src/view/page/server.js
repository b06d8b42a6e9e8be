// Asking the program.
import { Faulty, Gone, sheet } from './sheet.js';

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

/// A server that gave the page is there.
export const ready = async () => {};
export const ask = async (path, body, signal) => (await send(path, body, signal)).json();
export const askSheet = async (path, body, signal) => sheet(await (await send(path, body, signal)).arrayBuffer());
