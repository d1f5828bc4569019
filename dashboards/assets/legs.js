/* The examination of the legs: keys, one press for a line, and what became of each line. */
(function () {
  'use strict';
  const lineOf = one => one.closest('.legs tbody tr:not(.group)');
  const cellsOf = line => [...line.querySelectorAll('[data-leg-field]')];
  const inputOf = cell => cell.querySelector('input:not([type="radio"], [type="hidden"])');
  const valueOf = cell => {
    const chosen = cell.querySelector('input[type="radio"]:checked');
    const typed = inputOf(cell);
    return chosen ? chosen.value : typed ? typed.value : '';
  };
  const set = (cell, value) => {
    window.dash_clientside.set_props(JSON.parse(cell.dataset.legField), { value: value });
  };

  /* Say of each line whether it is open, confirmed, changed or examined, and how many are done. */
  function look() {
    for (const form of document.querySelectorAll('.legs-form')) {
      const lines = [...form.querySelectorAll('.legs tbody tr:not(.group)')];
      for (const line of lines) {
        const cells = cellsOf(line);
        const said = cells.filter(valueOf);
        const has = cells.some(cell => cell.dataset.legLast);
        const waits = cells.some(cell => cell.dataset.legLast && !valueOf(cell));
        const is = said.every(cell => valueOf(cell) === cell.dataset.legLast);
        line.dataset.state = waits ? 'open' : !said.length ? 'none'
          : !has ? 'examined' : is ? 'confirmed' : 'changed';
      }
      const shown = lines.filter(line => line.offsetParent !== null || !form.offsetParent);
      const done = lines.filter(line => !['open', 'none'].includes(line.dataset.state)).length;
      const open = lines.filter(line => line.dataset.state === 'open').length;
      const rest = open ? ` ${open} wait as last time; confirm or change.` : '';
      const told = form.querySelector('.legs-done');
      const words = `${done} of ${shown.length} lines done.${rest}`;
      if (told.textContent !== words) { told.textContent = words; }
      const rare = form.querySelector('[data-leg-act="all"]');
      rare.hidden = form.classList.contains('all') || !form.querySelector('tr.rare');
    }
  }
  let waits = 0;
  const lookSoon = () => {
    window.clearTimeout(waits);
    waits = window.setTimeout(look, 60);
  };

  const confirm = line => cellsOf(line)
    .filter(cell => !valueOf(cell) && cell.dataset.legLast)
    .forEach(cell => set(cell, cell.dataset.legLast));
  const same = line => {
    const cells = cellsOf(line);
    const at = cells.find(cell => cell.contains(document.activeElement));
    const from = at && valueOf(at) ? at : cells.find(valueOf);
    if (from) { cells.filter(cell => cell !== from).forEach(cell => set(cell, valueOf(from))); }
  };
  const step = (cell, by) => {
    const now = Number((valueOf(cell) || cell.dataset.legLast || '0').replace(',', '.'));
    set(cell, String((Number.isFinite(now) ? now : 0) + by));
  };
  const next = line => {
    let one = line.nextElementSibling;
    while (one && (one.matches('.group') || !one.offsetParent)) { one = one.nextElementSibling; }
    const cell = one && cellsOf(one)[0];
    const target = cell && (cell.querySelector('input:checked, .as-last input') ||
      cell.querySelector('input'));
    if (target) { target.focus(); }
  };

  document.addEventListener('click', event => {
    const button = event.target.closest('[data-leg-act]');
    if (!button) { return; }
    const act = button.dataset.legAct;
    if (act === 'all') {
      button.closest('.legs-form').classList.add('all');
      return lookSoon();
    }
    const cell = button.closest('[data-leg-field]');
    if (act === 'confirm') { confirm(lineOf(button)); next(lineOf(button)); }
    if (act === 'same') { same(lineOf(button)); }
    if (act === 'less') { step(cell, -1); }
    if (act === 'more') { step(cell, 1); }
    if (act === 'not tested') { set(cell, valueOf(cell) === act ? '' : act); }
    return lookSoon();
  });

  document.addEventListener('keydown', event => {
    const cell = event.target.closest && event.target.closest('[data-leg-field]');
    if (!cell || event.ctrlKey || event.metaKey || event.altKey) { return; }
    if (event.target.matches('[aria-haspopup="listbox"], button')) { return; }
    const radios = [...cell.querySelectorAll('input[type="radio"]')];
    const named = radios.find(one => one.value === event.key ||
      (event.key === 'n' && one.value === 'not tested'));
    if (event.key === 'Enter') {
      confirm(lineOf(cell));
      next(lineOf(cell));
    } else if (event.key === '=') {
      same(lineOf(cell));
    } else if (named) {
      set(cell, named.value);
      named.focus();
    } else if (event.key === 'n' && !radios.length) {
      set(cell, 'not tested');
    } else {
      return;
    }
    event.preventDefault();
    lookSoon();
  });

  document.addEventListener('input', event => {
    if (event.target.closest('.legs-form')) { lookSoon(); }
  });
  document.addEventListener('change', event => {
    if (event.target.closest('.legs-form')) { lookSoon(); }
  });
  new MutationObserver(changes => {
    const isNew = one => one.nodeType === 1 && (one.matches('.legs-form') ||
      one.querySelector('.legs-form') || one.closest('.legs-form'));
    if (changes.some(each => [...each.addedNodes].some(isNew))) { lookSoon(); }
  }).observe(document.documentElement, { childList: true, subtree: true });
})();
