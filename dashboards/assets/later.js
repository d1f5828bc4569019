/* Scripts that are read when a screen asks for them: see dashboards/shell/dash_private.py. */
(function () {
  'use strict';
  const addressOf = name => document.getElementById('later-' + name).value;

  /* Plots ask for the script at this address unless it is there. */
  Object.defineProperty(window, '_dashPlotlyJSURL', {
    get: () => addressOf('plotly'),
    set: () => {},  // the address of the larger one
  });

  /* Dash asks a plot to fit its place after every drawing, which draws it twice. */
  let plotly, reading;
  const fits = plot => plot._fullLayout
    && Math.abs(plot._fullLayout.width - plot.clientWidth) <= 1
    && Math.abs(plot._fullLayout.height - plot.clientHeight) <= 1;
  Object.defineProperty(window, 'Plotly', {
    get: () => plotly || reading,
    set: made => {
      const resize = made.Plots.resize;
      made.Plots.resize = plot => fits(plot) ? Promise.resolve(plot) : resize(plot);
      plotly = made;
    },
  });

  /* Read the script for plots now: a screen that will show some asks while its numbers are made.
     Plots wait for what they find as Plotly. */
  window.dash_clientside = window.dash_clientside || {};
  window.dash_clientside.later = {
    plotly: () => {
      reading = plotly || reading || new Promise((done, failed) => {
        const script = document.createElement('script');
        script.src = addressOf('plotly');
        script.onload = done;
        script.onerror = () => { reading = undefined; failed(new Error('no script for plots')); };
        document.body.appendChild(script);
      });
      return window.dash_clientside.no_update;
    },
  };
})();
