/* Compare: what happens in the browser alone. One slider moves all stick figures; playing shows them
   at half the pace of the reference's step. */
(function () {
  'use strict';
  let data = null, playing = null, share = 0;
  const setProps = (id, props) => window.dash_clientside.set_props(id, props);

  function draw() {
    (data ? data.frames : []).forEach((frames, place) => {
      const box = document.getElementById('compare-stick-' + place);
      const plot = box && (box.classList.contains('js-plotly-plot')
        ? box : box.querySelector('.js-plotly-plot'));
      if (!plot || !plot._fullLayout) { return; }
      const frame = frames[Math.round(share * (frames.length - 1))];
      window.Plotly.restyle(plot, { x: frame.map(leg => leg.x), y: frame.map(leg => leg.y) });
    });
  }

  function moved(percent, given) {
    data = given;
    if (!playing) { share = (percent || 0) / 100; draw(); }
  }

  function stop() {
    if (playing) { window.clearInterval(playing); }
    playing = null;
    setProps('compare-play', { children: 'Play' });
    setProps('compare-time', { value: Math.round(100 * share) });
  }

  function played(clicks) {
    if (!clicks || !data) { return; }
    if (playing) { stop(); return; }
    setProps('compare-play', { children: 'Stop' });
    playing = window.setInterval(() => {
      if (!document.getElementById('compare-play')) {
        window.clearInterval(playing);
        playing = null;
        return;
      }
      share = share >= 1 ? 0 : Math.min(1, share + 0.02);
      draw();
    }, Math.max(40, 40 * data.duration_s));
  }

  /* What the fields ask for, unless it is what was drawn with them. */
  function chosen(conditions, reference, choice, picked) {
    const person = (choice || {}).person;
    const same = picked && picked.person === person && String(picked.reference) === reference
      && picked.conditions.map(String).sort().join() === [...(conditions || [])].sort().join();
    return same ? window.dash_clientside.no_update : { person, conditions, reference };
  }

  /* What is below the answer is asked for when it comes near, for paper, and when nothing is done:
     until then it would hold up the answer. */
  let near = null, rests = null, awaited = false;

  function ask() {
    const place = document.querySelector('.compare-rest');
    if (near) { near.disconnect(); }
    window.clearTimeout(rests);
    if (place && awaited) {
      awaited = false;
      setProps({ type: 'compare-near', of: JSON.parse(place.id).of }, { data: Date.now() });
    }
  }

  function watch() {
    const place = document.querySelector('.compare-rest');
    if (!place) { return; }
    near = new IntersectionObserver(
      seen => { if (seen.some(one => one.isIntersecting)) { ask(); } }, { rootMargin: '300px' });
    near.observe(place);
    rests = window.setTimeout(ask, 2000);
  }

  function drawn() {
    setProps('compare-window', { opened: false });  // strides of what was compared before
    if (near) { near.disconnect(); }
    window.clearTimeout(rests);
    awaited = true;
    rests = window.setTimeout(watch);  // when it stands on the page
  }

  window.addEventListener('beforeprint', ask);
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    compare: { moved, played, chosen, drawn },
  });
})();
