/* Save what is shown: a picture as SVG or PNG, made here; a table as CSV or XLSX, which the server
   makes of what is shown. A picture is saved in the light, with its title, whatever the screen is. */
(function () {
  'use strict';
  const SVG = 'http://www.w3.org/2000/svg', XHTML = 'http://www.w3.org/1999/xhtml';
  const DRAWN = ['fill', 'fill-opacity', 'stroke', 'stroke-width', 'stroke-dasharray', 'opacity',
    'stroke-opacity', 'font-size', 'font-weight', 'font-family', 'text-anchor', 'display'];
  const NUMBER = /^[+-]?\d+(\.\d+)?$/;
  const HEAD = 26, LINE = 16, MARGIN = 12, SHARP = 2;  // pixels, and pixels of a PNG a pixel

  /* The words of an element as one text, a number with a plain hyphen; buttons and what is only for paper are none. */
  function textOf(cell) {
    const own = cell.cloneNode(true);
    own.querySelectorAll('button, .no-print, .of, .axis').forEach(one => one.remove());
    own.querySelectorAll('small, div, p, li, br').forEach(one => one.before(' '));
    const text = own.textContent.replace(/\s+/g, ' ').trim(), plain = text.replace('\u2212', '-');
    return NUMBER.test(plain) ? plain : text;
  }

  function cellsOf(cell) {
    const across = cell.querySelector('.across');
    const parts = across ? cell.querySelectorAll('.across > *') : [];
    if (!parts.length) { return [textOf(cell)]; }
    const n = across.children.length, lines = [...cell.querySelectorAll('.across')];
    return Array.from({ length: n },
      (_, i) => lines.map(line => textOf(line.children[i])).join('; '));
  }

  /* The rows of the table. */
  function rowsOf(box) {
    const table = box.matches('table') ? box : box.querySelector('table');
    return [...table.rows].map(row => [...row.cells].flatMap(cellsOf));
  }

  const styles = () => [...document.styleSheets].flatMap(sheet => [...sheet.cssRules])
    .map(rule => rule.cssText).join('\n');

  /* Put a drawing's own looks into it, which are the style sheet's so far. */
  function settled(svg) {
    const copy = svg.cloneNode(true);
    const [from, to] = [svg, copy].map(one => [one, ...one.querySelectorAll('*')]);
    from.forEach((one, i) => {
      const look = getComputedStyle(one);
      to[i].setAttribute('style', DRAWN.map(name => `${name}:${look.getPropertyValue(name)}`)
        .join(';'));
    });
    copy.querySelectorAll('.cursor, .reading').forEach(one => one.remove());
    return copy;
  }

  function sheet(width, height) {
    const svg = document.createElementNS(SVG, 'svg');
    for (const [name, value] of Object.entries({ width, height, viewBox: `0 0 ${width} ${height}` })) {
      svg.setAttribute(name, value);
    }
    svg.dataset.theme = 'light';
    return svg;
  }

  function put(svg, name, values, text) {
    const one = document.createElementNS(SVG, name);
    Object.entries(values).forEach(([key, value]) => one.setAttribute(key, value));
    if (text) { one.textContent = text; }
    return svg.appendChild(one);
  }

  /* A drawing with its title above it. */
  function ofDrawing(drawing, figure) {
    const { width, height } = drawing.viewBox.baseVal;
    const title = figure && figure.querySelector('strong, figcaption');
    const counts = figure && figure.querySelector('strong ~ small');
    const top = title ? HEAD + (counts ? LINE : 0) : 0;
    const svg = sheet(width, height + top);
    put(svg, 'rect', { width: '100%', height: '100%', fill: '#fff' });
    const type = { x: MARGIN, 'font-family': 'sans-serif', fill: '#171b20' };
    if (title) {
      put(svg, 'text', { ...type, y: 18, 'font-size': 14, 'font-weight': 600 }, textOf(title));
    }
    if (counts) { put(svg, 'text', { ...type, y: 34, 'font-size': 11 }, textOf(counts)); }
    const inside = settled(drawing);
    Object.entries({ x: 0, y: top, width, height }).forEach(
      ([name, value]) => inside.setAttribute(name, value));
    svg.append(inside);
    return svg;
  }

  /* Anything else that is shown, as it stands there, with the style it has. */
  function ofPart(box) {
    const { width, height } = box.getBoundingClientRect();
    const svg = sheet(Math.ceil(width + 2 * MARGIN), Math.ceil(height + 2 * MARGIN));
    const style = document.createElementNS(SVG, 'style');
    style.textContent = styles();
    const frame = put(svg, 'foreignObject', { width: '100%', height: '100%' });
    const page = document.createElementNS(XHTML, 'div');
    page.className = ['answer', 'several', 'settings'].filter(name => box.closest('.' + name))
      .join(' ');
    page.setAttribute('style', `background:#fff;padding:${MARGIN}px;color:var(--ink);`
      + 'font:16px/24px var(--type);font-variant-numeric:tabular-nums');
    const copy = box.cloneNode(true);
    copy.querySelectorAll('.save, .opener').forEach(one => one.remove());
    page.append(copy);
    frame.append(page);
    svg.prepend(style);
    return svg;
  }

  async function drawn(box) {
    const plot = box.querySelector('.js-plotly-plot');
    if (plot) {
      const given = await window.Plotly.toImage(plot, { format: 'svg' });
      return decodeURIComponent(given.slice(given.indexOf(',') + 1));
    }
    const root = document.documentElement, theme = root.dataset.theme;
    root.dataset.theme = 'light';
    try {
      const own = box.querySelectorAll('svg');
      const figure = box.closest('figure');
      const svg = own.length === 1 && figure ? ofDrawing(own[0], figure) : ofPart(box);
      return new XMLSerializer().serializeToString(svg);
    } finally {
      if (theme) { root.dataset.theme = theme; } else { delete root.dataset.theme; }
    }
  }

  function handOut(content, name) {
    const link = document.createElement('a');
    link.href = URL.createObjectURL(content);
    link.download = name;
    link.click();
    window.setTimeout(() => URL.revokeObjectURL(link.href), 10000);
  }

  async function asPng(text) {
    const picture = new Image();
    picture.src = 'data:image/svg+xml;charset=utf-8,' + encodeURIComponent(text);
    await picture.decode();
    const canvas = document.createElement('canvas');
    canvas.width = SHARP * picture.naturalWidth;
    canvas.height = SHARP * picture.naturalHeight;
    const pen = canvas.getContext('2d');
    pen.fillStyle = '#fff';
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    return new Promise(done => canvas.toBlob(done, 'image/png'));
  }

  /* On which screen, and what; nobody's code: compare-ankle. */
  function nameOf(what) {
    const words = `${document.title.split(' \u00b7 ')[0]} ${what}`.toLowerCase();
    return words.replace(/[^\p{L}\p{N}.]+/gu, '-').slice(0, 80);
  }

  async function save(kind, menu) {
    const box = menu.dataset.of ? document.querySelector(menu.dataset.of)
      : menu.closest('figure, .savable');
    const name = nameOf(menu.dataset.what);
    if (menu.dataset.through) {
      window.dash_clientside.set_props(menu.dataset.through, { data: { kind, name, at: Date.now() } });
      return;
    }
    if (kind === 'csv' || kind === 'xlsx') {
      window.dash_clientside.set_props('save', { data: { kind, name, rows: rowsOf(box),
        at: Date.now() } });
      return;
    }
    const text = await drawn(box);
    handOut(kind === 'svg' ? new Blob([text], { type: 'image/svg+xml' }) : await asPng(text),
      `${name}.${kind}`);
  }

  document.addEventListener('click', event => {
    const button = event.target.closest('[data-save]');
    const menu = event.target.closest('details.save');
    document.querySelectorAll('details.save[open]').forEach(one => {
      if (one !== menu || button) { one.open = false; }
    });
    if (button) { save(button.dataset.save, menu); }
  });
  document.addEventListener('keydown', event => {
    const menu = event.key === 'Escape' && event.target.closest('details.save[open]');
    if (menu) { menu.open = false; menu.firstElementChild.focus(); }
  });
})();
