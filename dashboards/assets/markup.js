/* Parts of a screen that only show: ready HTML as one component, see dashboards/markup.py. */
(function () {
  'use strict';
  const { createElement, useLayoutEffect, useRef } = window.React;
  let held = null;  // the button the keyboard is at, or was at when it was set anew

  function Markup({ html }) {
    const place = useRef(null);
    useLayoutEffect(() => {
      if (!held || document.activeElement !== document.body) { return; }
      const same = [...place.current.querySelectorAll('[data-press]')].find(
        one => one.dataset.press === held.press && one.dataset.value === held.value);
      if (same) { same.focus({ preventScroll: true }); }
    }, [html]);
    return createElement('div',
      { ref: place, className: 'markup', dangerouslySetInnerHTML: { __html: html } });
  }

  document.addEventListener('focusin', event => {
    held = event.target.dataset.press ? { ...event.target.dataset } : null;
  });
  document.addEventListener('pointerdown', () => { held = null; });
  document.addEventListener('click', event => {
    const button = event.target.closest('[data-press]');
    if (button) {
      const data = { value: JSON.parse(button.dataset.value), at: Date.now() };
      window.dash_clientside.set_props(button.dataset.press, { data: data });
    }
    const link = event.target.closest('.markup a[href^="/"]');
    if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
      event.preventDefault();
      window.dash_clientside.set_props('address', { pathname: link.pathname, search: link.search });
    }
  });

  window.gaittrack = { Markup };
})();
