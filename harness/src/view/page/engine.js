// Asking the engine that a report carries: model and solver as WebAssembly, in workers, so that the page stays at hand.
import { Faulty, sheet } from './sheet.js';

const data = (id) => document.getElementById(id).textContent;

/// Runs in a worker: everything it uses stands within.
function work() {
  let wasm;
  const call = (name, bytes) => {
    const at = wasm.room(bytes.length);
    new Uint8Array(wasm.memory.buffer, at, bytes.length).set(bytes);
    const faulty = wasm[name]() !== 0;
    return { faulty, answer: wasm.memory.buffer.slice(wasm.answer(), wasm.answer() + wasm.answer_len()) };
  };
  const text = new TextEncoder();
  let ready = Promise.resolve();
  self.onmessage = ({ data: told }) => {
    ready = ready.then(async () => {
      try {
        if (told.engine) wasm = (await WebAssembly.instantiate(told.engine, {})).instance.exports;
        const got = call(told.name, text.encode(told.body));
        self.postMessage({ id: told.id, ...got }, [got.answer]);
      } catch (error) {
        self.postMessage({ id: told.id, stopped: String(error) });
      }
    });
  };
}

async function unpacked() {
  const packed = Uint8Array.from(atob(data('try-engine')), (c) => c.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream('gzip'));
  return new Response(stream).arrayBuffer();
}

/// Whether the engine can run here; throws where it cannot.
export async function ready() {
  if (!WebAssembly.validate(await engine())) throw new Error('this browser lacks what the engine is made of');
}
let unpacking;
const engine = () => { unpacking ??= unpacked(); return unpacking; };

/// Who answers what: an estimate must not wait for a whole trace, nor that for the search of a cap, nor a hand for either.
const DESK = { quick: 'quick', 'live/start': 'live', 'live/step': 'live', play: 'whole', margins: 'whole', cap: 'cap' };
const desks = new Map();
let serial = 0;

async function desk(name) {
  if (!desks.has(name)) {
    const made = engine().then((bytes) => {
      const source = URL.createObjectURL(new Blob([`'use strict';(${work})();`], { type: 'text/javascript' }));
      const worker = new Worker(source);
      URL.revokeObjectURL(source);
      const waiting = new Map();
      const end = (why) => {
        worker.terminate();
        if (desks.get(name) === made) desks.delete(name);
        waiting.forEach(({ fail }) => fail(why));
        waiting.clear();
      };
      const stopped = (why) => end(new Faulty([{ message: `the engine stopped: ${why}` }]));
      worker.onerror = (e) => { e.preventDefault(); stopped(e.message); };
      worker.onmessage = ({ data: told }) => {
        if (told.stopped) { stopped(told.stopped); return; }
        const { done, fail } = waiting.get(told.id) ?? {};
        waiting.delete(told.id);
        if (told.faulty) fail?.(new Faulty(JSON.parse(new TextDecoder().decode(told.answer)).faults));
        else done?.(told.answer);
      };
      const call = (call_, body, bytes_) => new Promise((done, fail) => {
        serial += 1;
        waiting.set(serial, { done, fail });
        worker.postMessage({ id: serial, name: call_, body, engine: bytes_ });
      });
      return call('open', data('try-texts'), bytes).then(() => ({ call, end }));
    });
    made.catch(() => { if (desks.get(name) === made) desks.delete(name); });
    desks.set(name, made);
  }
  return desks.get(name);
}

const dropped = () => new DOMException('no longer wanted', 'AbortError');

async function send(path, body, signal) {
  const { call, end } = await desk(DESK[path]);
  if (signal?.aborted) throw dropped();
  // A worker cannot be interrupted but by ending it: the next question starts another.
  let ended = false;
  const abort = () => { ended = true; end(dropped()); };
  signal?.addEventListener('abort', abort, { once: true });
  try {
    const { id: _, ...rest } = body;
    return await call(path.replace('/', '_'), JSON.stringify(path === 'live/step' ? rest : body));
  } finally {
    if (!ended) signal?.removeEventListener('abort', abort);
  }
}

export async function ask(path, body, signal) {
  if (path === 'prop') return JSON.parse(data('try-prop'));
  // Nothing changes in a report.
  if (path === 'wait') return new Promise(() => {});
  return JSON.parse(new TextDecoder().decode(await send(path, body, signal)));
}
export const askSheet = async (path, body, signal) => sheet(await send(path, body, signal));
