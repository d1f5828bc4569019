/* The graphs of the screen Walks, drawn as SVG from figures in plotly's plain form: zoomed together,
   read by the pointer. What is dragged or pointed at is told to walks.js. */
(function () {
  'use strict';
  const LEFT = 56, RIGHT = 12, TOP = 34, BOTTOM = 42;  // room for names and numbers, pixels
  const NEAR = 20, CLICK = 5;                          // pixels
  const DASHES = { solid: '', dash: '7 4', dot: '2 3', longdash: '12 4' };
  const SYMBOLS = {
    'circle-open': 'M-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0',
    'diamond-open': 'M0 -7L7 0L0 7L-7 0Z',
    'square-open': 'M-5 -5H5V5H-5Z',
    'triangle-up-open': 'M0 -6L6 5H-6Z',
  };
  let plots = [];      // one per side
  let range = [0, 1];  // what is shown of the time, of all plots
  let told = {};       // what walks.js does when something is pointed at

  const escaped = text => String(text).replace(/[&<>"]/g, one => `&#${one.charCodeAt(0)};`);
  const dashes = name => name.includes('px') ? name.replaceAll('px', '') : DASHES[name] || '';
  const stroke = line => `stroke="${line.color}" stroke-width="${line.width}" stroke-dasharray="${
    dashes(line.dash)}" fill="none"`;
  const isBand = trace => trace.fill === 'toself';
  const isMarks = trace => trace.mode === 'markers';
  const axisOf = trace => 'yaxis' + (trace.yaxis || 'y').slice(1);

  /* Round numbers within a range, and their decimals. */
  function ticks(low, high, most) {
    const power = 10 ** Math.floor(Math.log10((high - low) / most));
    const step = [1, 2, 5, 10].map(factor => factor * power).find(
      one => one >= (high - low) / most * 0.999);
    const decimals = Math.max(0, -Math.floor(Math.log10(step) + 1e-9));
    const found = [];
    for (let n = Math.ceil(low / step - 1e-9); n <= high / step + 1e-9; n += 1) {
      found.push([n * step, (n * step).toFixed(decimals)]);
    }
    return found;
  }

  function extent(traces) {
    let low = Infinity, high = -Infinity;
    for (const value of traces.flatMap(trace => trace.y)) {
      if (value === null) { continue; }
      if (value < low) { low = value; }
      if (value > high) { high = value; }
    }
    if (low > high) { return [0, 1]; }
    const margin = 0.05 * (high - low) || 1;
    return [low - margin, high + margin];
  }

  /* A figure with what does not change while it is looked at. */
  function made(given, place) {
    const { data, layout } = given.figure;
    const height = given.height_px - TOP - BOTTOM;
    const panels = Object.entries(layout).filter(
      ([name, axis]) => name.startsWith('yaxis') && axis.visible !== false
    ).map(([name, axis]) => {
      const traces = data.filter(trace => axisOf(trace) === name);
      const [low, high] = extent(traces);
      const top = TOP + (1 - axis.domain[1]) * height;
      const tall = (axis.domain[1] - axis.domain[0]) * height;
      return { title: axis.title.text, traces, low, high, top, tall,
               y: value => top + (high - value) / (high - low) * tall };
    });
    return { ...given, data, layout, panels, place, bottom: TOP + height,
             times: (layout.shapes || []).map(shape => shape.x0) };
  }

  const across = (plot, time) => LEFT + (time - range[0]) / (range[1] - range[0])
    * (plot.width - LEFT - RIGHT);
  const timeAt = (plot, along) => range[0] + (along - LEFT) / (plot.width - LEFT - RIGHT)
    * (range[1] - range[0]);
  const isShown = time => time >= range[0] - 1e-9 && time <= range[1] + 1e-9;

  /* The points of a line that are shown, and one beyond on either side. */
  function linePath(plot, panel, trace) {
    const beyond = 1.01 * Math.abs(trace.x[1] - trace.x[0]) || 0;
    let path = '', pen = 'M';
    trace.x.forEach((time, i) => {
      const value = trace.y[i];
      if (value === null || time < range[0] - beyond || time > range[1] + beyond) {
        pen = 'M';
      } else {
        path += pen + across(plot, time).toFixed(1) + ' ' + panel.y(value).toFixed(1);
        pen = 'L';
      }
    });
    return `<path d="${path}" ${stroke(trace.line)}/>`;
  }

  function panelMarkup(plot, panel, clip) {
    const { top, tall, low, high } = panel, right = plot.width - RIGHT, middle = top + tall / 2;
    const rows = ticks(low, high, Math.max(5, tall / 30)).map(([value, words]) => {
      const y = panel.y(value).toFixed(1);
      return `<path class="grid" d="M${LEFT} ${y}H${right}"/><text class="tick-value" x="${LEFT - 5}"
        y="${Number(y) + 4}" text-anchor="end">${words}</text>`;
    });
    const lines = panel.traces.map(trace => linePath(plot, panel, trace));
    return `<g class="panel">${rows.join('')}<text transform="rotate(-90)" x="${-middle}" y="13"
      text-anchor="middle">${escaped(panel.title)}</text><g ${clip}>${lines.join('')}</g></g>`;
  }

  function timeMarkup(plot) {
    const marks = ticks(range[0], range[1], Math.max(5, (plot.width - LEFT) / 80)).map(
      ([time, words]) => {
        const x = across(plot, time).toFixed(1);
        return `<path class="grid" d="M${x} ${TOP}V${plot.bottom}"/><text class="tick-time" x="${x}" y="${
          plot.bottom + 15}" text-anchor="middle">${words}</text>`;
      });
    return `${marks.join('')}<text x="${(LEFT + plot.width - RIGHT) / 2}" y="${plot.bottom + 34}"
      text-anchor="middle">${escaped(plot.layout.xaxis.title.text)}</text>`;
  }

  function bandMarkup(plot, trace) {
    const from = across(plot, trace.x[0]), box = `x="${from.toFixed(1)}" y="${TOP}" width="${
      (across(plot, trace.x[1]) - from).toFixed(1)}" height="${plot.bottom - TOP}"`;
    return `<rect class="not-counted" ${box} fill="${trace.fillcolor}"/>
      <rect ${box} fill="url(#walks-hatch-${plot.side})"/>`;
  }

  function symbol(marker, x, y) {
    return `<path class="mark" transform="translate(${x} ${y})" d="${SYMBOLS[marker.symbol]}"
      stroke="${marker.color}" stroke-width="2" fill="none"/>`;
  }

  function marksMarkup(plot, trace) {
    return trace.x.map((time, i) => isShown(time) ? symbol(trace.marker,
      across(plot, time).toFixed(1), TOP + (1 - trace.y[i]) * (plot.bottom - TOP)) : '').join('');
  }

  /* Names of strides over their middle, in two rows; one that fits in neither waits for a zoom. */
  function namesMarkup(plot) {
    const free = [-Infinity, -Infinity];  // from where there is room, in the lower and the upper row
    return (plot.layout.annotations || []).map(name => {
      const lines = name.text.split('<br>').reverse(), x = across(plot, name.x);
      const share = name.xanchor === 'right' ? 1 : 0.5, wide = line => 6.2 * line.length;
      const fits = (line, row) => x - share * wide(line) >= free[row];
      const put = (line, row) => {
        free[row] = x + (1 - share) * wide(line) + 3;
        return `<tspan x="${x.toFixed(1)}" y="${TOP - 5 - 13 * row}">${escaped(line)}</tspan>`;
      };
      let rows = [];
      if (lines.every(fits)) { rows = lines.map(put); }
      else if (fits(lines.at(-1), 1)) { rows = [put(lines.at(-1), 1)]; }
      return rows.length && isShown(name.x) ? `<text class="stride-name" text-anchor="${
        share === 1 ? 'end' : 'middle'}">${rows.join('')}</text>` : '';
    }).join('');
  }

  function eventMarkup(plot, shape, i) {
    const tall = `M0 ${TOP}V${plot.bottom}`;
    const handle = told.mayDrag ? `<path class="walks-handle" d="${tall}"/>` : '';
    return `<g class="event" data-line="${i}"><path class="event-line" d="${tall}" ${
      stroke(shape.line)}/><text transform="rotate(-90)" x="${-TOP - 3}" y="-4"
      text-anchor="end">${escaped(shape.label.text)}</text>${handle}</g>`;
  }

  function draw(plot) {
    plot.width = Math.max(plot.place.clientWidth, LEFT + RIGHT + 60);
    const clip = `clip-path="url(#walks-clip-${plot.side})"`, svg = plot.place.querySelector('svg');
    const inner = `x="${LEFT}" y="${TOP}" width="${plot.width - LEFT - RIGHT}" height="${
      plot.bottom - TOP}"`;
    svg.setAttribute('viewBox', `0 0 ${plot.width} ${plot.height_px}`);
    svg.innerHTML = `<defs><clipPath id="walks-clip-${plot.side}"><rect ${inner}/></clipPath>
      <pattern id="walks-hatch-${plot.side}" width="10" height="10" patternUnits="userSpaceOnUse">
      <path class="hatch" d="M0 10L10 0M-2 2L2 -2M8 12L12 8"/></pattern></defs>
      <g ${clip}>${plot.data.filter(isBand).map(one => bandMarkup(plot, one)).join('')}</g>
      ${timeMarkup(plot)}${plot.panels.map(one => panelMarkup(plot, one, clip)).join('')}
      ${(plot.layout.shapes || []).map((one, i) => eventMarkup(plot, one, i)).join('')}
      ${plot.data.filter(isMarks).map(one => marksMarkup(plot, one)).join('')}${namesMarkup(plot)}
      <rect class="zoomed" y="${TOP}" height="${plot.bottom - TOP}" width="0"/>
      <path class="walks-cursor" d="M0 ${TOP}V${plot.bottom}"/>`;
    plot.lines = [...svg.querySelectorAll('.event')];
    plot.cursor = svg.querySelector('.walks-cursor');
    put();
  }

  /* Event lines and the time cursor where they belong now. */
  function put() {
    const at = (shape, plot, time) => {
      if (isShown(time)) {
        shape.setAttribute('transform', `translate(${across(plot, time).toFixed(2)} 0)`);
      }
      shape.setAttribute('visibility', isShown(time) ? 'visible' : 'hidden');
    };
    for (const plot of plots.filter(one => one.cursor)) {
      plot.lines.forEach((line, i) => at(line, plot, plot.times[i]));
      if (told.now === null) { plot.cursor.setAttribute('visibility', 'hidden'); }
      else { at(plot.cursor, plot, told.now); }
    }
  }

  /* Which line is which, below a graph. */
  function keyMarkup(plot) {
    return plot.data.filter(trace => trace.showlegend !== false).map(trace =>
      `<li><svg viewBox="0 0 30 14" aria-hidden="true">${isMarks(trace)
        ? symbol(trace.marker, 15, 7) : `<path d="M0 7H30" ${stroke(trace.line)}/>`}</svg>${
        escaped(trace.name)}</li>`).join('');
  }

  /* Draw figures into a place. The stretch of time that is shown stays if they are of one walk. */
  function show(place, figures, stays, acts) {
    told = acts;
    place.innerHTML = figures.map(one => `<figure class="walks-plot" data-side="${one.side}">
      <strong>${escaped(one.figure.layout.title.text)}</strong>
      <svg role="img" aria-label="${escaped(one.caption)}"></svg><ul></ul><p class="reading"></p>
      <figcaption>${escaped(one.caption)}</figcaption><p class="soft">${escaped(one.counts)}</p>
      </figure>`).join('');
    plots = figures.map((one, i) => made(one, place.children[i]));
    plots.forEach(plot => { plot.place.querySelector('ul').innerHTML = keyMarkup(plot); });
    if (!stays && plots.length) { range = [...plots[0].layout.xaxis.range]; }
    plots.forEach(draw);
    watch(place);
  }

  const whole = () => [0, Math.max(...plots.map(plot => plot.layout.xaxis.range[1]),
    ...plots.map(plot => plot.last_s))];

  /* Show another stretch of time, of some length and within what there is. */
  function zoom(from, to) {
    const [start, end] = whole(), width = Math.min(Math.max(to - from, 0.02), end - start);
    const first = Math.min(Math.max(from, start), end - width);
    range = [first, first + width];
    plots.forEach(draw);
  }

  const ZOOMS = {
    nearer: (from, width) => [from + width / 4, from + 3 * width / 4],
    farther: (from, width) => [from - width / 2, from + 3 * width / 2],
    earlier: (from, width) => [from - width / 2, from + width / 2],
    later: (from, width) => [from + width / 2, from + 3 * width / 2],
    whole: () => whole(),
  };

  /* Move on when the time cursor leaves what is shown. */
  function follow(now) {
    if (plots.length && !isShown(now)) {
      const width = range[1] - range[0];
      zoom(now - width / 10, now + 9 * width / 10);
    }
  }

  /* What the pointer is at: the nearest mark or point of a line, and a stride that is not counted. */
  function reading(plot, x, y) {
    let nearest = null, least = NEAR;
    const look = (trace, height) => trace.x.forEach((time, i) => {
      if (time === null || trace.y[i] === null) { return; }
      const away = Math.hypot(across(plot, time) - x, height(trace.y[i]) - y);
      if (away < least) { [nearest, least] = [[trace, i], away]; }
    });
    plot.panels.forEach(panel => panel.traces.forEach(trace => look(trace, panel.y)));
    plot.data.filter(isMarks).forEach(
      trace => look(trace, part => TOP + (1 - part) * (plot.bottom - TOP)));
    const time = timeAt(plot, x);
    const out = plot.data.filter(one => isBand(one) && one.x[0] <= time && time <= one.x[1]);
    return [nearest && words(...nearest), ...out.map(one => one.text.replaceAll('<br>', ' '))]
      .filter(text => text).join('. ');
  }

  function words(trace, i) {
    const own = trace.hovertemplate.replace('<extra></extra>', '');
    const text = own.replace(/%\{(x|y|text)(?::\.(\d)f)?\}/g, (_, key, decimals) =>
      decimals ? trace[key][i].toFixed(decimals) : trace[key][i]);
    return own === trace.hovertemplate ? `${trace.name} ${text}` : text;
  }

  /* Words beside the pointer, on the side where there is room. */
  function tell(plot, event, text) {
    const note = plot.place.querySelector('.reading'), box = plot.place.getBoundingClientRect();
    const x = event.clientX - box.left, isRight = x > box.width / 2;
    note.textContent = text;
    note.style.top = (event.clientY - box.top + 14) + 'px';
    note.style.left = isRight ? 'auto' : (x + 10) + 'px';
    note.style.right = isRight ? (box.width - x + 10) + 'px' : 'auto';
  }

  function placeIn(plot, event) {
    const box = plot.place.querySelector('svg').getBoundingClientRect();
    const scale = plot.width / box.width;
    return [(event.clientX - box.left) * scale, (event.clientY - box.top) * scale];
  }

  let held = null;  // what the pointer holds: a line, or the beginning of a stretch
  function pressed(plot, event) {
    const [x, y] = placeIn(plot, event), line = event.target.closest('.event');
    if (event.button || y > plot.bottom) { return; }
    if (line && event.target.classList.contains('walks-handle')) {
      const i = Number(line.dataset.line);
      held = { plot, line: i, off: across(plot, plot.times[i]) - x };
      event.preventDefault();
    } else { held = { plot, from: x }; }
    plot.place.querySelector('svg').setPointerCapture(event.pointerId);
  }

  function moved(plot, event) {
    const [x, y] = placeIn(plot, event);
    if (!held) {
      tell(plot, event, reading(plot, x, y));
    } else if (held.line !== undefined) {
      told.dragged(plot.side, held.line, timeAt(plot, x + held.off));
    } else {
      const box = plot.place.querySelector('.zoomed');
      box.setAttribute('x', Math.min(held.from, x));
      box.setAttribute('width', Math.abs(x - held.from));
    }
  }

  function released(plot, event) {
    const now = held;
    held = null;
    if (!now) { return; }
    if (now.line !== undefined) { told.dropped(); return; }
    const [from, to] = [now.from, placeIn(plot, event)[0]].sort((a, b) => a - b);
    plot.place.querySelector('.zoomed').setAttribute('width', 0);
    if (to - from > CLICK) { zoom(timeAt(plot, from), timeAt(plot, to)); }
    else { told.pointed(timeAt(plot, to)); }
  }

  function cancelled(plot) {
    held = null;
    plot.place.querySelector('.zoomed').setAttribute('width', 0);
  }

  /* Once for the place that the figures come into. */
  function watch(place) {
    if (place.isWatched) { return; }
    place.isWatched = true;
    const acts = { pointerdown: pressed, pointermove: moved, pointerup: released,
                   pointercancel: cancelled };
    for (const [name, act] of Object.entries(acts)) {
      place.addEventListener(name, event => {
        const svg = event.target.closest('svg[role]');
        const plot = svg && plots.find(one => one.place === svg.parentNode);
        if (plot) { act(plot, event); }
      });
    }
    place.addEventListener('pointerout', () => plots.forEach(
      plot => { plot.place.querySelector('.reading').textContent = ''; }));
    place.addEventListener('dblclick', event => {
      if (event.target.closest('svg[role]')) { zoom(...plots[0].layout.xaxis.range); }
    });
    new ResizeObserver(() => {
      plots.filter(plot => plot.place.clientWidth !== plot.width && plot.place.clientWidth)
        .forEach(draw);
    }).observe(place);
  }

  document.addEventListener('click', event => {
    const button = event.target.closest('[data-zoom]');
    if (button && plots.length) {
      zoom(...ZOOMS[button.dataset.zoom](range[0], range[1] - range[0]));
    }
  });

  window.walksPlots = {
    show, put, follow,
    /* Put an event line elsewhere. */
    setTime: (side, i, time) => {
      const plot = plots.find(one => one.side === side);
      if (plot) { plot.times[i] = time; }
    },
  };
})();
