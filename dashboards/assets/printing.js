// Plots are laid out for the screen; on paper they get the paper's width.
window.addEventListener('beforeprint', () => document.querySelectorAll('.js-plotly-plot').forEach(
  (plot) => window.Plotly.relayout(plot, { width: Math.min(680, plot.clientWidth) })));
window.addEventListener('afterprint', () => document.querySelectorAll('.js-plotly-plot').forEach(
  (plot) => window.Plotly.relayout(plot, { width: null, autosize: true })));
