// The engine that reports carry, run in node as a page's worker runs it.
import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { root } from './bench.mjs';

const FILE = process.env.ENGINE ?? join(root, 'harness/src/view/page/engine.wasm.gz');

/// The files of a prop folder as texts, and what is played of them.
export async function texts(folder, plays) {
  const files = [['build.toml', await readFile(join(folder, 'build.toml'), 'utf8')]];
  for (const [sub, ending] of [['presets', '.toml'], ['cues', '.csv'], ['sounds', '.csv']]) {
    for (const name of (await readdir(join(folder, sub))).filter((n) => n.endsWith(ending)).sort()) {
      files.push([`${sub}/${name}`, await readFile(join(folder, sub, name), 'utf8')]);
    }
  }
  return { variant: null, cap: null, files, plays };
}

export async function engine(open) {
  const { instance } = await WebAssembly.instantiate(gunzipSync(await readFile(FILE)), {});
  const wasm = instance.exports;
  const ask = (name, body) => {
    const bytes = new TextEncoder().encode(typeof body === 'string' ? body : JSON.stringify(body));
    const at = wasm.room(bytes.length);
    new Uint8Array(wasm.memory.buffer, at, bytes.length).set(bytes);
    const faulty = wasm[name.replace('/', '_')]() !== 0;
    const answer = Buffer.from(wasm.memory.buffer.slice(wasm.answer(), wasm.answer() + wasm.answer_len()));
    if (faulty) throw new Error(answer.toString());
    return answer;
  };
  if (open) ask('open', open);
  return { ask };
}
