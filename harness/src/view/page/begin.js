'use strict';
// The part of a report that can be tried out. Where the engine cannot run, the films below it show what was computed.
(async () => {
  const section = document.getElementById('try');
  const note = document.getElementById('try-note');
  try {
    if (typeof WebAssembly !== 'object' || typeof DecompressionStream !== 'function') throw new Error('this browser has no WebAssembly');
    const host = document.getElementById('try-page');
    host.attachShadow({ mode: 'open' }).append(document.getElementById('try-template').content.cloneNode(true));
    /* modules */
    await from_app.begun;
  } catch (error) {
    section.classList.add('still');
    note.textContent = `Nothing can be tried out here: ${error.message}. The films below show the light as it was computed.`;
  }
})();
