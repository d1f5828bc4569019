/* Keys of the screen People: / goes to the search, arrows from row to row; links do the rest. */
(function () {
  'use strict';
  document.addEventListener('keydown', event => {
    const search = document.getElementById('people-search');
    if (!search || event.ctrlKey || event.metaKey || event.altKey) { return; }
    const at = document.activeElement;
    if (event.key === '/' && !at.matches('input, textarea, select')) {
      event.preventDefault();
      search.focus();
      return;
    }
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step || !(at === search || at.matches('.whole-row'))) { return; }
    const rows = [search, ...document.querySelectorAll('.people .whole-row')];
    const next = rows[rows.indexOf(at) + step];
    if (next) { event.preventDefault(); next.focus(); }
  });
})();
