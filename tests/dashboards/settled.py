"""Wait until a page has drawn what its callbacks gave, and look for what would be cut off."""

import contextlib
import json
import time

WATCH = """(() => {
  if (window.atWork) return;
  const seen = window.atWork = {asked: 0, changes: 0}, ask = window.fetch;
  window.fetch = (...given) => {
    seen.asked += 1;
    return ask(...given).finally(() => { seen.asked -= 1; seen.changes += 1; });
  };
  new MutationObserver(() => { seen.changes += 1; }).observe(
    document, {subtree: true, childList: true, attributes: true, characterData: true});
})();"""
"""Counts what was asked and is not answered, and changes of the page; best before its scripts."""
_AT_REST = """limit_ms => new Promise(resolve => {
  const TICK_MS = 50, QUIET_TICKS = 5, end_ms = performance.now() + limit_ms, seen = window.atWork;
  const isDrawn = one => one.querySelector('.js-plotly-plot')?._fullLayout?.xaxis !== undefined;
  const isBusy = () => seen.asked || document.querySelector('[data-dash-is-loading="true"]')
    || ![...document.querySelectorAll('.dash-graph')].every(isDrawn);
  let changes = -1, n_quiet = 0;
  const look = () => {
    n_quiet = seen.changes === changes && !isBusy() ? n_quiet + 1 : 0;
    changes = seen.changes;
    if (n_quiet >= QUIET_TICKS || performance.now() > end_ms) {
      resolve(n_quiet >= QUIET_TICKS);
    } else {
      setTimeout(look, TICK_MS);
    }
  };
  look();
})"""
"""Ticks are counted, not seconds: a busy page has none."""
_LEAD = """address => {
  history.pushState({}, '', address);
  dispatchEvent(new CustomEvent('_dashprivate_pushstate'));
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
    """Wait until nothing that was asked is open, nothing has changed a while, plots are drawn."""
    page.wait_for_selector("main h1")
    page.evaluate(WATCH)
    if not page.evaluate(_AT_REST, 1000 * timeout_s):
        raise AssertionError("the page does not come to rest")


def lead(page, address):
    """Go to another screen as a link does: the page is not loaded anew."""
    before = page.inner_text("main")
    page.evaluate(_LEAD, address)
    until(page, "before => document.querySelector('main').innerText !== before", before)
    settle(page)


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
    settle(page)
    yield
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    page.emulate_media(media="screen")
    page.set_viewport_size(size)


@contextlib.contextmanager
def held_back(page, *outputs):
    """Keep the next request for each of these places from the server until the block ends.

    Gives a function that waits until all of them were asked for.
    """
    wanted, held = list(outputs), []

    def pass_on(route):
        given = route.request.post_data_json["output"]
        mine = next((each for each in wanted if each in given), None)
        if mine is None:
            route.continue_()
            return
        wanted.remove(mine)
        held.append(route)

    def asked():
        for _ in range(1_000):
            if not wanted:
                return
            page.wait_for_timeout(20)
        raise AssertionError(f"never asked for: {wanted}")

    page.route("**/_dash-update-component*", pass_on)
    yield asked
    for route in held:
        with page.expect_response(lambda got, own=route.request: got.request == own):
            route.continue_()
    page.unroute("**/_dash-update-component*", pass_on)
    settle(page, 60)
