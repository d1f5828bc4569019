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

  window.dash_clientside = Object.assign({}, window.dash_clientside, { compare: { moved, played } });
})();
