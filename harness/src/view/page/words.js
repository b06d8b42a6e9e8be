// Elements with words in them, and faults of the files with their places.

export function node(tag, text, name) {
  const e = document.createElement(tag);
  if (text !== undefined) e.textContent = text;
  if (name) e.className = name;
  return e;
}

export function showFaults(box, faults, kept) {
  box.hidden = faults.length === 0;
  box.replaceChildren();
  if (!faults.length) return;
  box.append(node('h2', faults.length === 1 ? 'A fault in the files' : `${faults.length} faults in the files`));
  if (kept) box.append(node('p', 'What is shown is the last state without a fault.'));
  const list = node('ul');
  for (const f of faults.slice(0, 8)) {
    const item = node('li');
    item.append(node('b', f.file ? `${f.file}:${f.line}:${f.column} ` : ''), f.message);
    if (f.text) item.append(node('pre', `${f.text}\n${' '.repeat(Math.max(0, f.column - 1))}^ ${f.label ?? ''}`));
    if (f.help) item.append(node('p', f.help, 'note'));
    list.append(item);
  }
  box.append(list);
}
