/* Parts of a screen that only show: ready HTML as one component, see dashboards/parts/markup.py. */
(function () {
  'use strict';
  const { createElement, useLayoutEffect, useRef } = window.React;
  let held = null;  // what the keyboard is at, or was at when it was set anew
  const nameOf = one => one.dataset.press
    ? one.tagName + one.dataset.press + one.dataset.value : one.href;

  const send = (one, value) => {
    window.dash_clientside.set_props(one.dataset.press, { data: { value: value, at: Date.now() } });
  };

  function Markup({ html }) {
    const place = useRef(null);
    useLayoutEffect(() => {
      if (!held || document.activeElement !== document.body) { return; }
      const same = [...place.current.querySelectorAll('[data-press], a')].find(
        one => nameOf(one) === held);
      if (same) { same.focus({ preventScroll: true }); }
    }, [html]);
    return createElement('div',
      { ref: place, className: 'markup', dangerouslySetInnerHTML: { __html: html } });
  }

  document.addEventListener('focusin', event => {
    held = event.target.closest('[data-press], .markup a') ? nameOf(event.target) : null;
  });
  const buttonOf = event => event.target.closest('[data-press]:not(select, input)');

  /* A button that is drawn anew while it is held down is pressed all the same. */
  let down = null;
  document.addEventListener('pointerdown', event => {
    held = null;
    down = buttonOf(event);
  });
  document.addEventListener('pointerup', event => {
    const button = buttonOf(event);
    if (down && button && !down.isConnected && nameOf(down) === nameOf(button)) { button.click(); }
    down = null;
  });
  document.addEventListener('click', event => {
    const button = buttonOf(event);
    if (button) {
      const value = JSON.parse(button.dataset.value);
      const field = button.dataset.field && button.closest('tr').querySelector('input');
      send(button, field ? { ...value, chosen: field.value } : value);
    }
    const link = event.target.closest('.markup a[href^="/"]');
    if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
      event.preventDefault();
      window.dash_clientside.set_props('address', { pathname: link.pathname, search: link.search });
    }
  });

  /* A drawn button: pressed as any other, and arrows press the next one of its drawing. */
  const STEPS = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1, Enter: 0, ' ': 0 };
  document.addEventListener('keydown', event => {
    const drawn = event.target.closest('g[data-press]');
    if (!drawn || !(event.key in STEPS)) { return; }
    event.preventDefault();
    const all = [...drawn.closest('svg').querySelectorAll('g[tabindex]')];
    const next = all[(all.indexOf(drawn) + STEPS[event.key] + all.length) % all.length];
    next.focus({ preventScroll: true });
    send(next, JSON.parse(next.dataset.value));
  });

  document.addEventListener('change', event => {
    const field = event.target.closest('select[data-press], input[data-press]');
    if (field) { send(field, { ...JSON.parse(field.dataset.value), chosen: field.value }); }
  });

  window.gaittrack = { Markup };
})();
