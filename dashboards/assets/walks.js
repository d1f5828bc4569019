/* Walks: what happens in the browser alone. Event lines follow the pointer and the typed time; the
   time cursor moves the stick figure. Nothing here changes the study. */
(function () {
  'use strict';
  const field = name => ({ type: 'walks-field', name: name });
  const player = name => ({ type: 'walks-player', name: name });
  const setProps = (id, props) => window.dash_clientside.set_props(id, props);
  const SIDES = ['left', 'right'];
  const NOTHING = { figures: [], lines: null, frames: null, last_s: null, stick: null };
  let shown = NOTHING;  // what the server gave to draw
  let room = null;      // where it is drawn
  let proposal = { key: null, time: null };
  let now = 0;          // the time cursor, seconds
  let playing = null;   // request of the next picture while it plays
  let pace = 0.5;

  const within = time => Math.min(Math.max(time, 0), shown.last_s);
  const hasPlayer = () => shown.last_s !== null;
  const linesOf = side => (shown.lines || {})[side] || [];
  const timeOf = line => line.key === proposal.key && Number.isFinite(proposal.time)
    ? proposal.time : line.time_s;
  const lineOf = key => SIDES.flatMap(linesOf).find(one => one.key === key) || null;
  const acts = { mayDrag: false, now: null, dragged, dropped, pointed };

  /* Another walk, or the same after a correction: then cursor and zoom stay where they are. */
  function drawn(given) {
    const place = document.getElementById('walks-feet'), before = shown;
    if (!place) { return; }
    shown = given ? JSON.parse(given) : NOTHING;
    const isOther = place !== room || shown.of !== before.of;
    room = place;
    if (isOther || shown.version !== before.version) { proposal = { key: null, time: null }; }
    if (isOther) {
      stop();
      now = 0;
    }
    acts.mayDrag = shown.lines !== null;
    acts.now = hasPlayer() ? now : null;
    window.walksPlots.show(place, shown.figures, !isOther, acts, shown.leg);
    showStick();
    draw(now);
    tell();
  }

  /* Put every line where it belongs; the chosen event's line stands at the proposed time. */
  function placeLines() {
    for (const side of SIDES) {
      linesOf(side).forEach((line, i) => window.walksPlots.setTime(side, i, timeOf(line)));
    }
    window.walksPlots.put();
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
    if (place.textContent !== words) { setProps('walks-proposal', { children: words }); }
  }

  function dragged(side, i, time) {
    const line = linesOf(side)[i];
    proposal = { key: line.key, time: Math.round(1000 * within(time)) / 1000 };
    placeLines();
  }

  function dropped() {
    if (proposal.key === null) { return; }
    setProps(field('event'), { value: proposal.key });
    setProps(field('time'), { value: proposal.time });
    tell();
  }

  function pointed(time) {
    if (!hasPlayer()) { return; }
    stop();
    setProps(player('time'), { value: Math.round(1000 * within(time)) });
  }

  /* The form was changed: a newly chosen event brings its own time. */
  function entered(values, ids) {
    const form = {};
    ids.forEach((id, i) => { form[id.name] = values[i]; });
    const line = lineOf(form.event), key = line ? form.event : null;
    if (key !== proposal.key) {
      proposal = { key: key, time: line ? line.time_s : null };
      setProps(field('time'), { value: line ? line.time_s : '' });
    } else if (typeof form.time === 'number') {
      proposal.time = form.time;
    }
    placeLines();
    tell();
  }

  function draw(time) {
    now = time;
    acts.now = hasPlayer() ? now : null;
    placeLines();
    const clock = document.getElementById('walks-now');
    if (clock) { clock.textContent = now.toFixed(3) + ' s'; }
    drawStick();
  }

  /* Move the time cursor, and with it what is shown when it would leave that. */
  function go(time) {
    if (hasPlayer()) { window.walksPlots.follow(time); }
    draw(time);
  }

  /* The axes of the stick figure, or why there is none. */
  function showStick() {
    const place = document.getElementById('walks-stick');
    if (!place) { return; }
    place.innerHTML = shown.stick ? shown.stick.html : '';
    if (shown.frames) { addLegs(place); }
  }

  /* The stick figure at the cursor. */
  function drawStick() {
    const { frames, stick } = shown, layer = document.querySelector('.walks-legs');
    if (!frames || !layer) { return; }
    const frame = Math.min(Math.round(now / frames.step_s), frames.x[0].length - 1);
    const [x0, x1, left, width, y0, y1, top, height] = stick.frame;
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
    shown.stick.legs.forEach((leg, k) => {
      const name = make('text', { dx: 8, dy: leg.isAbove ? -6 : 16 });
      name.textContent = leg.name;
      name.dataset.at = leg.nameAt;
      const group = make('g', {});
      group.append(make('path', { fill: 'none', stroke: leg.colour, 'stroke-width': 4,
                                  'stroke-dasharray': leg.dashes || 'none' }), name,
                   ...shown.frames.x[k][0].map(() => make('circle', { r: 4, 'stroke-width': 2,
                     stroke: leg.colour, fill: leg.isOpen ? 'var(--paper)' : leg.colour })));
      layer.append(group);
    });
    figure.querySelector('svg').append(layer);
  }

  function moved(milliseconds) {
    if (!playing) { go((milliseconds || 0) / 1000); }
  }

  function stop() {
    if (!playing) { return; }
    window.cancelAnimationFrame(playing);
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
    const end = shown.last_s;
    let before = null, set = 0;
    setProps(player('play'), { children: 'Stop' });
    const step = instant => {
      if (!document.contains(room)) { playing = null; return; }
      const time = before === null ? now : now + pace * (instant - before) / 1000;
      before = instant;
      go(time > end ? 0 : time);
      if (instant - set > 500) {
        set = instant;
        setProps(player('time'), { value: Math.round(1000 * now) });
      }
      playing = window.requestAnimationFrame(step);
    };
    playing = window.requestAnimationFrame(step);
  }

  /* Pass on what a row is drawn from when it is another, and the row is open: then the server draws
     it anew. A row that is closed is emptied, and asked for when it is opened. */
  let beside = null;
  const rowOf = () => document.getElementById('walks-row').closest('details');

  function other(told, before) {
    beside = told;
    const wanted = rowOf().open ? told : null;
    const isSame = JSON.stringify(wanted) === JSON.stringify(before || null);
    const stays = !rowOf().open && JSON.stringify(told) === JSON.stringify(before);
    return isSame || stays ? window.dash_clientside.no_update : wanted;
  }

  document.addEventListener('toggle', event => {
    const row = document.getElementById('walks-row');
    if (row && event.target.open && row.closest('details') === event.target && !row.firstChild) {
      setProps('walks-row-of', { data: beside });
    }
  }, true);

  function taken() {
    const triggered = window.dash_clientside.callback_context.triggered[0];
    if (triggered && triggered.value) {
      const name = JSON.parse(triggered.prop_id.split('.n_clicks')[0]).name;
      setProps(field(name), { value: Math.round(1000 * now) / 1000 });
    }
  }

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    walks: { corrected, drawn, entered, moved, other, played, taken },
  });
})();
