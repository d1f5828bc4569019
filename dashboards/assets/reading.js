/* Read a picture: where the pointer is, the value of every line under it. */
(function () {
  'use strict';
  const NAMESPACE = 'http://www.w3.org/2000/svg';

  function made(svg, name, kind) {
    const found = svg.querySelector('.' + kind);
    if (found) { return found; }
    const own = document.createElementNS(NAMESPACE, name);
    own.setAttribute('class', kind);
    return svg.appendChild(own);
  }

  /* Height of a line at a place across, in pixels of the drawing; null where it has a gap. */
  function heightAt(group, along) {
    for (const line of group.querySelectorAll('polyline')) {
      const points = line.points, n = points.numberOfItems;
      for (let i = 1; i < n; i += 1) {
        const [a, b] = [points.getItem(i - 1), points.getItem(i)];
        if (a.x <= along && along <= b.x) {
          return b.x === a.x ? a.y : a.y + (b.y - a.y) * (along - a.x) / (b.x - a.x);
        }
      }
    }
    return null;
  }

  function read(event) {
    const figure = event.target.closest('figure[data-frame]');
    const svg = figure && figure.querySelector('svg');
    if (!svg) { return; }
    const [x0, x1, left, width, y0, y1, top, height] = JSON.parse(figure.dataset.frame);
    const along = (event.clientX - svg.getScreenCTM().e) / svg.getScreenCTM().a;
    const inside = along >= left && along <= left + width;
    const cursor = made(svg, 'path', 'cursor'), words = made(svg, 'text', 'reading');
    cursor.setAttribute('d', inside ? `M${along} ${top}V${top + height}` : '');
    words.setAttribute('x', left + 6);
    words.setAttribute('y', top + 10);
    const values = [...svg.querySelectorAll('g:not(.axis)')].map(group => {
      const at = heightAt(group, along);
      return at === null ? null : group.querySelector('title').textContent + ' '
        + (y0 + (top + height - at) / height * (y1 - y0)).toFixed(1);
    }).filter(text => text);
    const place = (x0 + (along - left) / width * (x1 - x0)).toFixed(0);
    words.textContent = inside ? `${place} ${figure.dataset.reads}: ${values.join(', ')}` : '';
  }

  for (const name of ['pointermove', 'pointerdown']) { document.addEventListener(name, read); }
})();
