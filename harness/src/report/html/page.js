// Plays the films. A film is a picture: a column a moment, a row a pixel. The strip is one column, drawn as dots.
'use strict';
(() => {
  const calm = matchMedia('(prefers-reduced-motion: reduce)');
  const players = [];
  let running = null;

  function player(root) {
    const img = root.querySelector('.film img');
    const canvas = root.querySelector('canvas');
    const button = root.querySelector('.go');
    const range = root.querySelector('.time');
    const at = root.querySelector('.at');
    const head = root.querySelector('.head');
    const length = Number(root.dataset.length);
    const columns = Number(root.dataset.columns);
    const strips = root.dataset.strips.split('|').filter(Boolean).map((s) => {
      const cut = s.lastIndexOf(':');
      return { name: s.slice(0, cut), pixels: Number(s.slice(cut + 1)) };
    });
    const longest = Math.max(1, ...strips.map((s) => s.pixels));
    let time = 0;
    let last = 0;

    function draw() {
      const scale = window.devicePixelRatio || 1;
      const width = Math.max(1, Math.round(canvas.clientWidth * scale));
      const pitch = width / longest;
      const row = Math.max(14 * scale, Math.min(26 * scale, pitch));
      const text = 13 * scale;
      const height = Math.round(strips.length * (row + text * 1.9));
      if (canvas.width !== width || canvas.height !== height) {
        canvas.width = width;
        canvas.height = height;
        canvas.style.height = `${height / scale}px`;
      }
      const c = canvas.getContext('2d');
      c.fillStyle = '#0b0a08';
      c.fillRect(0, 0, width, height);
      c.imageSmoothingEnabled = false;
      const column = Math.min(columns - 1, Math.floor(time / length * columns));
      let top = 0;
      let y = 0;
      for (const s of strips) {
        c.fillStyle = '#b5ac9d';
        c.font = `${text}px system-ui, sans-serif`;
        c.fillText(s.name, 0, y + text);
        y += text * 1.4;
        // One column, turned: its top row is the last pixel of the strip, which is drawn at the right.
        if (img.complete && img.naturalWidth) {
          c.save();
          c.translate(s.pixels * pitch, y);
          c.rotate(Math.PI / 2);
          c.drawImage(img, column, top, 1, s.pixels, 0, 0, row, s.pixels * pitch);
          c.restore();
        }
        top += s.pixels;
        y += row + text * 0.5;
      }
    }
    function show() {
      range.value = String(time);
      at.textContent = `${time.toFixed(2)} s`;
      range.setAttribute('aria-valuetext', `${time.toFixed(1)} seconds of ${length.toFixed(0)}`);
      head.style.left = `${time / length * 100}%`;
      draw();
    }
    function tick(now) {
      if (running !== api) return;
      time += Math.min(0.25, (now - last) / 1000);
      last = now;
      if (time >= length) { time = length; stop(); }
      show();
      requestAnimationFrame(tick);
    }
    function stop() {
      if (running === api) running = null;
      button.textContent = calm.matches ? 'Play (moving light)' : 'Play';
    }
    function play() {
      if (running) running.stop();
      running = api;
      if (time >= length) time = 0;
      button.textContent = 'Stop';
      last = performance.now();
      requestAnimationFrame(tick);
    }
    const api = { root, stop, seek(t) { stop(); time = Math.max(0, Math.min(length, t)); show(); } };
    button.addEventListener('click', () => (running === api ? stop() : play()));
    range.addEventListener('input', () => { time = Number(range.value); show(); });
    const film = root.querySelector('.film');
    const point = (e) => { const b = film.getBoundingClientRect(); api.seek((e.clientX - b.left) / b.width * length); };
    film.addEventListener('pointerdown', (e) => { film.setPointerCapture(e.pointerId); point(e); });
    film.addEventListener('pointermove', (e) => { if (e.buttons & 1) point(e); });
    img.addEventListener('load', draw);
    addEventListener('resize', draw);
    // A still of the first moment that the verdicts name; nothing moves by itself.
    const named = [...document.querySelectorAll('a.seek')].find((l) => l.dataset.preset === root.dataset.preset);
    if (named) time = Math.min(length, Number(named.dataset.time));
    stop();
    show();
    players.push(api);
  }

  document.querySelectorAll('.play').forEach(player);
  document.addEventListener('click', (event) => {
    const link = event.target.closest('a.seek');
    if (!link) return;
    const to = players.find((p) => p.root.dataset.preset === link.dataset.preset && p.root.dataset.cues === link.dataset.cues);
    if (!to) return;
    event.preventDefault();
    to.seek(Number(link.dataset.time));
    to.root.scrollIntoView({ behavior: calm.matches ? 'auto' : 'smooth', block: 'start' });
    to.root.querySelector('.time').focus({ preventScroll: true });
  });
})();
