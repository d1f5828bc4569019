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
  let plotly;
  const fits = plot => plot._fullLayout
    && Math.abs(plot._fullLayout.width - plot.clientWidth) <= 1
    && Math.abs(plot._fullLayout.height - plot.clientHeight) <= 1;
  Object.defineProperty(window, 'Plotly', {
    get: () => plotly,
    set: made => {
      const resize = made.Plots.resize;
      made.Plots.resize = plot => fits(plot) ? Promise.resolve(plot) : resize(plot);
      plotly = made;
    },
  });
})();
