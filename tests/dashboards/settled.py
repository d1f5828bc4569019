"""Wait until a page has drawn what its callbacks gave, and look for what would be cut off."""

import contextlib
import json
import time

QUIET_S = 0.5
_STATE = """() => {
  const plots = [...document.querySelectorAll('.dash-graph')].map(
    (one) => one.querySelector('.js-plotly-plot'));  // none until the script of plots is there
  return {drawn: plots.every((one) => one?._fullLayout?.xaxis !== undefined),
          underWay: document.querySelectorAll('[data-dash-is-loading="true"]').length,
          asked: performance.getEntriesByType('resource').length,
          text: document.querySelector('main').innerHTML.length};
}"""
_CUT = """() => {
  const edge = document.documentElement.clientWidth;
  const cut = (one) => {
    const box = one.getBoundingClientRect(), style = getComputedStyle(one);
    if (box.width <= 1 || box.height <= 1 || style.visibility === 'hidden') return false;
    if (one.closest('svg') && one.tagName !== 'svg') return false;
    const hides = style.overflowX !== 'visible' && one.tagName !== 'INPUT';
    return box.right > edge + 1 || (hides && one.scrollWidth > one.clientWidth + 1);
  };
  return [...document.querySelectorAll('main *')].filter(cut).map(
    (one) => `${one.tagName} #${one.id} .${one.className}`.slice(0, 120));
}"""


def settle(page, timeout_s=20.0):
    """Wait until no callback is under way, nothing has changed a while, and plots are drawn."""
    page.wait_for_selector("main h1")
    end_s = time.monotonic() + timeout_s
    last, since_s = None, 0.0
    while last is None or time.monotonic() - since_s < QUIET_S:
        if time.monotonic() > end_s:
            raise AssertionError("the page does not come to rest")
        now = page.evaluate(_STATE)
        if now["underWay"] or not now["drawn"] or now != last:
            last, since_s = now, time.monotonic()
        page.wait_for_timeout(100)


def until(page, script, arg=None, timeout_s=20.0):
    """Wait until a function or expression of JavaScript is true in a page.

    Playwright's own wait_for_function now and then polls by eval, which the page forbids.
    """
    end_s = time.monotonic() + timeout_s
    while not page.evaluate(script, arg):
        if time.monotonic() > end_s:
            raise AssertionError(f"never true: {script}")
        page.wait_for_timeout(50)


def buttons_of_graphs(page):
    """Return the titles of each graph's buttons, graph by graph."""
    return page.locator(".js-plotly-plot").evaluate_all(
        "all => all.map(one => [...one.querySelectorAll('.modebar-btn')].map("
        "button => button.dataset.title))"
    )


def choose(page, choice):
    """Let a page, or all of a browser context, begin with a person, visit or trial chosen."""
    page.add_init_script(
        "if (!sessionStorage.getItem('choice')) "
        f"sessionStorage.setItem('choice', '{json.dumps(choice)}')"
    )


def cut_off(page):
    """Return what reaches over the edge of the page, or is hidden by its own frame."""
    return page.evaluate(_CUT)


@contextlib.contextmanager
def on_paper(page, width_px=688):
    """Show a page as it is printed: the width of A4 less its margins, plots told."""
    size = page.viewport_size
    page.set_viewport_size({"width": width_px, "height": 970})
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    page.wait_for_timeout(200)
    yield
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")
    page.set_viewport_size(size)
