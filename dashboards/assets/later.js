/* Scripts that are read when a screen asks for them: see dashboards/shell/dash_private.py. */
(function () {
  'use strict';
  const { createElement, lazy, Suspense } = window.React;
  const addressOf = name => document.getElementById('later-' + name).value;
  let grid = null;

  function read(address) {
    return new Promise((resolve, reject) => {
      const script = document.createElement('script');
      script.src = address;
      script.onload = resolve;
      script.onerror = reject;
      document.body.append(script);
    });
  }

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

  /* Until the grid's script is there, the grid is a component that waits for it. */
  const readGrid = () => {
    grid = grid || read(addressOf('grid')).then(() => ({ default: window.dash_ag_grid.AgGrid }));
    return grid;
  };
  const Grid = lazy(readGrid);
  window.dash_ag_grid = {
    AgGrid: props => createElement(Suspense, { fallback: null }, createElement(Grid, props)),
  };
})();
