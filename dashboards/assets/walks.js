/* Walks: what happens in the browser alone. Event lines follow the pointer and the typed time; the
   time cursor moves the stick figure. Nothing here changes the study. */
(function () {
  'use strict';
  const field = name => ({ type: 'walks-field', name: name });
  const player = name => ({ type: 'walks-player', name: name });
  const setProps = (id, props) => window.dash_clientside.set_props(id, props);
  const SIDES = ['left', 'right'];
  let lines = null;    // key and time of every event line, by side
  let frames = null;   // the stick figure at every instant
  let proposal = { key: null, time: null };
  let now = 0;         // the time cursor, seconds
  let playing = null;  // request of the next picture while it plays
  let pace = 0.5;

  function plot(id) {
    const place = document.getElementById(id);
    const found = place && (place.classList.contains('js-plotly-plot')
      ? place : place.querySelector('.js-plotly-plot'));
    return found && found._fullLayout && found._fullLayout.xaxis ? found : null;
  }
  const graphId = side => '{"side":"' + side + '","type":"walks-graph"}';
  const sidePlot = side => plot(graphId(side));

  /* Put every line where it belongs; the chosen event's line stands at the proposed time. */
  function placeLines() {
    for (const side of SIDES) {
      const gd = sidePlot(side), own = linesOf(side);
      if (!gd || !own.length || gd.layout.shapes.length !== own.length) { continue; }
      const update = {};
      own.forEach((line, i) => {
        const time = timeOf(line);
        if (Math.abs(Number(gd.layout.shapes[i].x0) - time) > 1e-6) {
          update['shapes[' + i + '].x0'] = update['shapes[' + i + '].x1'] = time;
        }
      });
      if (Object.keys(update).length) { window.Plotly.relayout(gd, update); }
    }
  }

  const linesOf = side => (lines || {})[side] || [];
  const timeOf = line => line.key === proposal.key && Number.isFinite(proposal.time)
    ? proposal.time : line.time_s;

  function lineOf(key) {
    for (const side of SIDES) {
      const line = linesOf(side).find(one => one.key === key);
      if (line) { return line; }
    }
    return null;
  }

  /* After a correction the button that was pressed may be gone: go where it says what changed. */
  function corrected() {
    if (document.activeElement === document.body) {
      const place = document.getElementById('walks-changes-place');
      if (place && place.children.length) { place.focus({ preventScroll: true }); }
    }
  }

  function tell() {
    const place = document.getElementById('walks-proposal');
    const line = lineOf(proposal.key);
    if (!place) { return; }
    let words = '';
    if (line && Number.isFinite(proposal.time) && Math.abs(proposal.time - line.time_s) > 5e-4) {
      words = 'Proposed, not kept yet: ' + proposal.key.split(' ').slice(0, 2).join(' ')
        .replace('_', ' ') + ' from ' + line.time_s.toFixed(3) + ' to '
        + proposal.time.toFixed(3) + ' s. Give a reason and press “Move the event”.';
    }
    setProps('walks-proposal', { children: words });
  }

  /* Handles over the lines of a graph, to be dragged to the millisecond. */
  function drawHandles(side, gd) {
    const own = linesOf(side), axis = gd._fullLayout.xaxis, size = gd._fullLayout._size;
    let handles = [...gd.querySelectorAll('.walks-handle')];
    if (handles.length !== own.length) {
      handles.forEach(handle => handle.remove());
      handles = own.map((_, i) => addHandle(side, gd, i));
    }
    own.forEach((line, i) => {
      const along = axis.l2p(timeOf(line)), style = handles[i].style;
      style.display = along < 0 || along > axis._length ? 'none' : 'block';
      style.left = (size.l + along) + 'px';
      style.top = size.t + 'px';
      style.height = size.h + 'px';
    });
  }

  function addHandle(side, gd, i) {
    const handle = document.createElement('div');
    let grabbed = null;  // from the pointer to the line, pixels
    handle.className = 'walks-handle';
    handle.addEventListener('pointerdown', event => {
      const line = linesOf(side)[i];
      grabbed = pixelOf(gd, timeOf(line)) - event.clientX;
      if (line.key !== proposal.key) { proposal = { key: line.key, time: line.time_s }; }
      handle.setPointerCapture(event.pointerId);
      event.preventDefault();
      event.stopPropagation();
    });
    handle.addEventListener('pointermove', event => {
      if (grabbed === null) { return; }
      const axis = gd._fullLayout.xaxis;
      const time = axis.p2l(event.clientX + grabbed - pixelOf(gd, 0) + axis.l2p(0));
      proposal.time = Math.round(1000 * Math.min(Math.max(time, 0), lastSecond())) / 1000;
      window.requestAnimationFrame(placeLines);
    });
    handle.addEventListener('pointerup', () => {
      grabbed = null;
      setProps(field('event'), { value: proposal.key });
      setProps(field('time'), { value: proposal.time });
      placeLines();
      tell();
    });
    gd.appendChild(handle);
    return handle;
  }

  const pixelOf = (gd, time) => gd.getBoundingClientRect().left + gd._fullLayout._size.l
    + gd._fullLayout.xaxis.l2p(time);

  const hasPlayer = () => document.querySelector('.walks-replay') !== null;

  function lastSecond() {
    const slider = document.querySelector('.walks-replay [role=slider]');
    return slider ? Number(slider.getAttribute('aria-valuemax')) / 1000 : Infinity;
  }

  /* The form was changed: a newly chosen event brings its own time. */
  function entered(values, given, ids) {
    const isNew = (given || {}).of !== (lines || {}).of;
    lines = given;
    const form = {};
    ids.forEach((id, i) => { form[id.name] = values[i]; });
    if (!('event' in form)) { return; }
    if (isNew) {
      proposal = { key: null, time: null };
      setProps(field('time'), { value: '' });
    }
    const line = lineOf(form.event), key = line ? form.event : null;
    if (key !== proposal.key) {
      proposal = { key: key, time: line ? line.time_s : null };
      setProps(field('time'), { value: line ? line.time_s : '' });
    } else if (typeof form.time === 'number') {
      proposal.time = form.time;
    }
    placeLines();
    drawOver();
    tell();
  }

  /* What stands over the graphs: the time cursor and the handles of the lines. */
  function drawOver() {
    for (const side of SIDES) {
      const gd = sidePlot(side);
      if (!gd) {
        if (document.getElementById(graphId(side))) { window.setTimeout(drawOver, 100); return; }
        continue;
      }
      gd.style.position = 'relative';
      if (!gd.hasWalks) {
        gd.hasWalks = true;
        gd.on('plotly_afterplot', drawOver);
        gd.on('plotly_relayout', () => showTogether(gd));
      }
      if (hasPlayer()) { drawCursor(gd); drawHandles(side, gd); }
    }
  }

  /* Both sides show the same stretch of time. */
  function showTogether(gd) {
    const range = gd._fullLayout.xaxis.range;
    for (const other of SIDES.map(sidePlot)) {
      if (other && other !== gd && Math.abs(other._fullLayout.xaxis.range[0] - range[0])
          + Math.abs(other._fullLayout.xaxis.range[1] - range[1]) > 1e-6) {
        window.Plotly.relayout(other, { 'xaxis.range': [...range] });
      }
    }
  }

  /* Move the stretch that is shown when the cursor leaves it. */
  function follow() {
    const gd = SIDES.map(sidePlot).find(one => one);
    const range = gd && gd._fullLayout.xaxis.range;
    if (!gd || (now >= range[0] && now <= range[1])) { return; }
    const width = range[1] - range[0], start = Math.max(0, now - width / 10);
    window.Plotly.relayout(gd, { 'xaxis.range': [start, start + width] });
  }

  function drawCursor(gd) {
    let mark = gd.querySelector('.walks-cursor');
    if (!mark) {
      mark = document.createElement('div');
      mark.className = 'walks-cursor';
      gd.appendChild(mark);
    }
    const size = gd._fullLayout._size, axis = gd._fullLayout.xaxis, along = axis.l2p(now);
    mark.style.display = along < 0 || along > axis._length ? 'none' : 'block';
    mark.style.left = (size.l + along) + 'px';
    mark.style.top = size.t + 'px';
    mark.style.height = size.h + 'px';
  }

  function draw(time) {
    now = time;
    if (hasPlayer()) { follow(); }
    drawOver();
    const clock = document.getElementById('walks-now');
    if (clock) { clock.textContent = now.toFixed(3) + ' s'; }
    drawStick();
  }

  /* The stick figure at the cursor. */
  function drawStick() {
    const figure = frames && document.getElementById('walks-stick');
    if (!figure) { return; }
    const layer = figure.querySelector('.walks-legs') || addLegs(figure);
    const frame = Math.min(Math.round(now / frames.step_s), frames.x[0].length - 1);
    const [x0, x1, left, width, y0, y1, top, height] = JSON.parse(figure.dataset.frame);
    frames.x.forEach((leg, k) => {
      const [path, label, ...points] = layer.children[k].children;
      const places = leg[frame].map((x, i) => {
        const y = frames.y[k][frame][i];
        return x === null || y === null ? null
          : [left + (x - x0) / (x1 - x0) * width, top + (y1 - y) / (y1 - y0) * height];
      });
      path.setAttribute('d', places.map((place, i) => place
        ? (i && places[i - 1] ? 'L' : 'M') + place.join(',') : '').join(''));
      points.forEach((point, i) => put(point, places[i], 'cx', 'cy'));
      put(label, places[label.dataset.at], 'x', 'y');
    });
  }

  function put(shape, place, x, y) {
    shape.style.display = place ? '' : 'none';
    if (place) {
      shape.setAttribute(x, place[0]);
      shape.setAttribute(y, place[1]);
    }
  }

  /* One group per leg: line, name, points. */
  function addLegs(figure) {
    const make = (name, given) => {
      const made = document.createElementNS('http://www.w3.org/2000/svg', name);
      Object.entries(given).forEach(([key, value]) => made.setAttribute(key, value));
      return made;
    };
    const layer = make('g', { class: 'walks-legs' });
    JSON.parse(figure.dataset.legs).forEach((leg, k) => {
      const name = make('text', { dx: 8, dy: leg.isAbove ? -6 : 16 });
      name.textContent = leg.name;
      name.dataset.at = leg.nameAt;
      const group = make('g', {});
      group.append(make('path', { fill: 'none', stroke: leg.colour, 'stroke-width': 4,
                                  'stroke-dasharray': leg.dashes || 'none' }), name,
                   ...frames.x[k][0].map(() => make('circle', { r: 4, 'stroke-width': 2,
                     stroke: leg.colour, fill: leg.isOpen ? 'var(--paper)' : leg.colour })));
      layer.append(group);
    });
    figure.querySelector('svg').append(layer);
    return layer;
  }

  function moved(milliseconds, given) {
    frames = given;
    if (!playing) { draw((milliseconds || 0) / 1000); }
  }

  function pointed(clicks) {
    const triggered = window.dash_clientside.callback_context.triggered[0];
    const click = triggered && triggered.value;
    if (click && click.points && click.points.length && hasPlayer()) {
      stop();
      setProps(player('time'), { value: Math.round(1000 * click.points[0].x) });
    }
  }

  function stop() {
    if (playing) { window.cancelAnimationFrame(playing); }
    playing = null;
    setProps(player('play'), { children: 'Play' });
  }

  function played(clicks, wantedPace) {
    pace = Number(wantedPace) || 0.5;
    const triggered = window.dash_clientside.callback_context.triggered[0];
    if (!clicks || !triggered || !triggered.prop_id.endsWith('.n_clicks')) { return; }
    if (playing) {
      stop();
      setProps(player('time'), { value: Math.round(1000 * now) });
      return;
    }
    const end = lastSecond();
    let before = null, shown = 0;
    setProps(player('play'), { children: 'Stop' });
    const step = instant => {
      if (!hasPlayer()) { playing = null; return; }
      const time = before === null ? now : now + pace * (instant - before) / 1000;
      before = instant;
      draw(time > end ? 0 : time);
      if (instant - shown > 500) {
        shown = instant;
        setProps(player('time'), { value: Math.round(1000 * now) });
      }
      playing = window.requestAnimationFrame(step);
    };
    playing = window.requestAnimationFrame(step);
  }

  function taken() {
    const triggered = window.dash_clientside.callback_context.triggered[0];
    if (triggered && triggered.value) {
      const name = JSON.parse(triggered.prop_id.split('.n_clicks')[0]).name;
      setProps(field(name), { value: Math.round(1000 * now) / 1000 });
    }
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    walks: { corrected, entered, pointed, moved, played, taken },
  });
})();
