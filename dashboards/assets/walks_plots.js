/* The graphs of the screen Walks, drawn as SVG from figures in plotly's plain form: zoomed together,
   read by the pointer. What is dragged or pointed at is told to walks.js. */
(function () {
  'use strict';
  const LEFT = 56, RIGHT = 12, BOTTOM = 30;  // room for numbers, pixels
  const TOP = 84, BARE_TOP = 8;              // above the curves: lanes of strides and events, or none
  const LANE = 22, LETTER = 40, TIME = 76;   // height of the lane of strides; tops of letter and time
  const PANEL = 150, NAME = 18;              // height of a panel, and of its name above its curves
  const SECOND = 70;                         // least width of a second at first: letters stay apart
  const NEAR = 20, CLICK = 5, STEP_S = 0.01; // pixels, pixels, seconds of an arrow key
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
  let leg = 'left';    // whose plot is seen

  const UNITS = { deg: '\u00b0', mm: ' mm', 'm/s': ' m/s', N: ' N' };
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
    const start = given.last_s === null ? BARE_TOP : TOP;
    const panels = Object.entries(layout).filter(
      ([name, axis]) => name.startsWith('yaxis') && axis.visible !== false
    ).map(([name, axis], i) => {
      const traces = data.filter(trace => !isBand(trace) && axisOf(trace) === name);
      const [low, high] = extent(traces);
      const top = start + i * PANEL + NAME, tall = PANEL - NAME;
      const [, title, unit] = axis.title.text.match(/^(.*) \((.*)\)$/);
      return { title, unit: UNITS[unit] || unit, traces, low, high, top, tall,
               y: value => top + (high - value) / (high - low) * tall };
    });
    const bottom = start + panels.length * PANEL;
    return { ...given, data, layout, panels, place, top: start, bottom, height_px: bottom + BOTTOM,
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
    const { tall, low, high } = panel, right = plot.width - RIGHT;
    const values = ticks(low, high, Math.max(4, tall / 34));
    const rows = values.map(([value, words], i) => {
      const y = panel.y(value).toFixed(1), unit = i === values.length - 1 ? panel.unit : '';
      return `<path class="grid${value ? '' : ' zero'}" d="M${LEFT} ${y}H${right}"/>
        <text class="tick-value" x="${LEFT - 5}" y="${Number(y) + 4}" text-anchor="end">${
          words.replace('-', '\u2212')}${unit}</text>`;
    });
    const lines = panel.traces.map(trace => linePath(plot, panel, trace));
    return `<g class="panel">${rows.join('')}<g ${clip}>${lines.join('')}</g></g>`;
  }

  /* Over the event lines, above the curves. */
  function nameMarkup(panel) {
    const y = panel.top - NAME;
    return `<rect class="panel-name" x="${LEFT + 1}" y="${y}" width="${7.4 * panel.title.length + 10}" height="${
      NAME}"/><text class="panel-name" x="${LEFT + 4}" y="${y + 14}">${escaped(panel.title)}</text>`;
  }

  function timeMarkup(plot) {
    const times = ticks(range[0], range[1], Math.max(4, (plot.width - LEFT) / 80));
    const unit = plot.last_s === null ? ' %' : ' s';
    return times.map(([time, words], i) => {
      const x = across(plot, time).toFixed(1), last = i === times.length - 1 ? unit : '';
      return `<text class="tick-time" x="${x}" y="${plot.bottom + 18}" text-anchor="middle">${words}${
        last}</text>`;
    }).join('');
  }

  /* Stance is washed, a stride that is not counted hatched. */
  function bandMarkup(plot, trace) {
    const from = across(plot, trace.x[0]), box = `x="${from.toFixed(1)}" y="${plot.top}" width="${
      (across(plot, trace.x[1]) - from).toFixed(1)}" height="${plot.bottom - plot.top}"`;
    return trace.name === 'stance' ? `<rect class="stance" ${box}/>`
      : `<rect class="not-counted" ${box} fill="url(#walks-hatch-${plot.side})"/>`;
  }

  function symbol(marker, x, y) {
    return `<path class="mark" transform="translate(${x} ${y})" d="${SYMBOLS[marker.symbol]}"
      stroke="${marker.color}" stroke-width="2" fill="none"/>`;
  }

  function marksMarkup(plot, trace) {
    return trace.x.map((time, i) => isShown(time) ? symbol(trace.marker,
      across(plot, time).toFixed(1), plot.bottom - trace.y[i] * (plot.bottom - plot.top)) : '').join('');
  }

  /* The lane of strides: number and whether it is counted, as far as there is room. */
  function lanesMarkup(plot) {
    if (plot.last_s === null) { return ''; }
    const boxes = plot.strides.map(one => {
      const [from, to] = [one.from, one.to].map(time => across(plot, Math.min(Math.max(time, range[0]),
        range[1])));
      if (to - from < 3) { return ''; }
      const words = one.counted && to - from > 78 ? `${one.name} \u00b7 counted` : one.name;
      return `<g class="stride${one.counted ? '' : ' out'}"><rect x="${(from + 1).toFixed(1)}" y="1" width="${
        (to - from - 2).toFixed(1)}" height="${LANE - 2}" rx="4"/>${to - from > 16
        ? `<text x="${((from + to) / 2).toFixed(1)}" y="16" text-anchor="middle">${words}</text>` : ''}</g>`;
    });
    return `<text class="lane" x="0" y="16">stride</text><text class="lane" x="0" y="${LETTER + 15}">event</text>
      ${boxes.join('')}`;
  }

  /* A letter with its line; above it the shape of its source where there are several. */
  function eventMarkup(plot, shape, i) {
    const tall = `M0 ${plot.top}V${plot.bottom}`, words = escaped(shape.label.text);
    const source = plot.symbols.length
      ? `<path class="source" transform="translate(0 ${LETTER - 8}) scale(.75)" d="${SYMBOLS[plot.symbols[i]]}"/>` : '';
    const acts = told.mayDrag ? `tabindex="0" role="slider" aria-label="${words}" aria-valuemin="0"
      aria-valuemax="${plot.last_s.toFixed(3)}"` : '';
    const handle = told.mayDrag
      ? `<path class="walks-handle" d="${tall}"/><rect class="walks-handle" x="-13" y="${LETTER - 3}"
      width="26" height="${TIME - LETTER + 5}"/>` : '';
    return `<g class="event ${shape.name}" data-line="${i}" ${acts}><title>${words}</title>
      <path class="event-line" d="${tall}" ${stroke(shape.line)}/><rect class="letter" x="-12" y="${
      LETTER - 2}" width="24" height="24" rx="4"/><text class="letter" y="${LETTER + 15}"
      text-anchor="middle">${shape.name}</text>${source}<text class="event-time" y="${TIME}"
      text-anchor="middle"></text>${handle}</g>`;
  }

  function draw(plot) {
    const seen = plots.find(one => one.place.clientWidth) || plot;  // the other leg is as wide
    plot.width = Math.max(seen.place.clientWidth, LEFT + RIGHT + 60);
    const clip = `clip-path="url(#walks-clip-${plot.side})"`, svg = plot.place.querySelector('svg');
    const inner = `x="${LEFT}" y="${plot.top}" width="${plot.width - LEFT - RIGHT}" height="${
      plot.bottom - plot.top}"`;
    svg.setAttribute('viewBox', `0 0 ${plot.width} ${plot.height_px}`);
    svg.innerHTML = `<defs><clipPath id="walks-clip-${plot.side}"><rect ${inner}/></clipPath>
      <pattern id="walks-hatch-${plot.side}" width="10" height="10" patternUnits="userSpaceOnUse">
      <path class="hatch" d="M0 10L10 0M-2 2L2 -2M8 12L12 8"/></pattern></defs>
      <g ${clip}>${plot.data.filter(isBand).map(one => bandMarkup(plot, one)).join('')}</g>
      ${timeMarkup(plot)}${plot.panels.map(one => panelMarkup(plot, one, clip)).join('')}
      ${(plot.layout.shapes || []).map((one, i) => eventMarkup(plot, one, i)).join('')}
      ${plot.data.filter(isMarks).map(one => marksMarkup(plot, one)).join('')}${lanesMarkup(plot)}
      ${plot.panels.map(nameMarkup).join('')}<rect class="zoomed" y="${plot.top}" height="${plot.bottom - plot.top}" width="0"/>
      <path class="walks-cursor" d="M0 ${plot.top}V${plot.bottom}"/>`;
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
      let free = -Infinity;  // from where there is room for a time
      plot.lines.forEach((line, i) => {
        const time = plot.times[i], x = across(plot, time), words = line.querySelector('.event-time');
        at(line, plot, time);
        words.textContent = x >= free ? time.toFixed(2) : '';
        if (words.textContent && isShown(time)) { free = x + 34; }
        if (told.mayDrag) {
          line.setAttribute('aria-valuenow', time.toFixed(3));
          line.setAttribute('aria-valuetext', `${time.toFixed(3)} s`);
        }
      });
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
  function show(place, figures, stays, acts, first) {
    told = acts;
    place.innerHTML = figures.map(one => `<figure class="walks-plot" data-side="${one.side}">
      <strong>${escaped(one.figure.layout.title.text)}</strong>
      <svg role="${told.mayDrag ? 'group' : 'img'}" aria-label="${escaped(one.caption)}"></svg><ul></ul>
      <p class="reading"></p><figcaption>${escaped(one.caption)}</figcaption></figure>`).join('');
    plots = figures.map((one, i) => made(one, place.children[i]));
    plots.forEach(plot => { plot.place.querySelector('ul').innerHTML = keyMarkup(plot); });
    if (!stays && plots.length) {
      choose(first);
      range = [...plots[0].layout.xaxis.range];
      const wide = (plots.find(one => one.place.clientWidth) || plots[0]).place.clientWidth;
      if (plots[0].last_s !== null && wide) {
        range[1] = Math.min(range[1], Math.max((wide - LEFT - RIGHT) / SECOND, 1));
      }
    } else { choose(leg); }
    plots.forEach(draw);
    watch(place);
  }

  /* See the curves of one leg; paper shows both. */
  function choose(side) {
    const own = plots.some(one => one.side === side) ? side : (plots[0] || { side }).side;
    leg = own;
    document.getElementById('walks-body').dataset.leg = own;
    document.querySelectorAll('[data-leg]:is(button)').forEach(one => {
      one.setAttribute('aria-pressed', String(one.dataset.leg === own));
      one.hidden = plots.length < 2;
    });
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
      trace => look(trace, part => plot.bottom - part * (plot.bottom - plot.top)));
    const time = timeAt(plot, x);
    const out = plot.data.filter(one => isBand(one) && one.x[0] <= time && time <= one.x[1]);
    return [nearest && words(...nearest), ...out.map(one => (one.text || '').replaceAll('<br>', ' '))]
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
    if (line && told.mayDrag && event.target.classList.contains('walks-handle')) {
      const i = Number(line.dataset.line);
      held = { plot, line: i, off: across(plot, plot.times[i]) - x };
      event.preventDefault();
      line.focus({ preventScroll: true });
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

  /* An arrow key moves the letter that has the focus by 10 ms. */
  function keyed(event) {
    const line = event.target.closest('.event'), way = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!line || !way || !told.mayDrag) { return; }
    event.preventDefault();
    const plot = plots.find(one => one.place.contains(line)), i = Number(line.dataset.line);
    told.dragged(plot.side, i, plot.times[i] + way * STEP_S);
    told.dropped();
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
    place.addEventListener('keydown', keyed);
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
    const button = event.target.closest('button:is([data-zoom], [data-leg], [data-show])');
    if (!button || !plots.length) { return; }
    const given = button.dataset;
    if (given.leg) {
      choose(given.leg);
    } else if (given.show) {
      const { side, from, to } = JSON.parse(given.show), end = to === undefined ? whole()[1] : to;
      choose(side);
      zoom(from - 0.3, end + 0.3);
      plots.find(one => one.side === leg).place.scrollIntoView({ block: 'center' });
    } else { zoom(...ZOOMS[given.zoom](range[0], range[1] - range[0])); }
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
