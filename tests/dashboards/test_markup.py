"""Parts that only show: the same words as HTML, nothing of them read as HTML, buttons that work."""

import pytest
from dash import dcc, html

from dashboards.parts.controls import data, table
from dashboards.parts.dash_private import Markup
from dashboards.parts.markup import html_of, pressing, still

WICKED = "<img src=x onerror=alert(1)> & \"quoted\" 'once'"


def words_and_attributes_from_elsewhere_stay_words(page):
    """Let the browser read them: what was given comes back letter for letter, nothing else."""
    text = html_of([html.P(WICKED, title=WICKED, className=WICKED, **data(head=WICKED))])
    page.evaluate("(text) => { document.querySelector('main').innerHTML = text; }", text)
    found = "one => [one.textContent, one.title, one.className, one.dataset.head]"
    assert page.eval_on_selector("main p", found) == [WICKED] * 4
    assert page.locator("main img").count() == 0


def test_a_table_is_one_part():
    """However many cells; numbers, gaps and classes as the components have them."""
    shown = table(["A", "B"], [["x", 1], [None, html.Strong("y")]], caption="c", numbers=(1,))
    (whole,) = still([shown])
    assert isinstance(whole, Markup)
    assert whole.html.count("<td") == 4
    assert '<td class="number" data-head="B">1</td>' in whole.html
    assert '<th class="number" scope="col">B</th>' in whole.html


def test_a_table_is_the_same_with_a_part_that_lives_and_without():
    """Written straight or made of components: the same head, cells and names, words stay words."""
    rows = [["<i>", 1.5, None], [html.Small('"&"'), ["x", html.Strong("y")], ""]]
    given = {"caption": "a & b", "numbers": (1,)}
    plain = table(["A", "<B>", ""], rows, **given)
    assert isinstance(plain, Markup)
    live = table(["A", "<B>", ""], [*rows, ["", dcc.Input(id="here"), ""]], **given)
    body = live.children[1].children.children[2]
    body.children.pop()
    assert html_of(live) == plain.html


def test_what_has_an_id_or_a_life_of_its_own_stays_in_its_place():
    """Before and after it the rest is joined, in boxes inside as well."""
    link, field = dcc.Link("on", href="/"), html.Div(id="place")
    parts = still([html.P("a"), "b", link, html.Section([html.P("c"), field, html.P("d")])])
    assert [type(part) for part in parts] == [Markup, dcc.Link, html.Section]
    assert parts[0].html == "<p>a</p>b"
    inside = parts[2].children
    assert [getattr(part, "html", part) for part in inside] == ["<p>c</p>", field, "<p>d</p>"]


@pytest.mark.parametrize("live", [{"n_clicks": 0}, {"style": {"color": "red"}}, {"id": "x"}])
def test_an_attribute_that_html_lacks_keeps_the_component(live):
    """Nothing is dropped silently."""
    assert html_of([html.P("a"), html.P("b", **live)]) is None


def test_a_list_is_not_broken_up():
    """No box comes between a list and its points, a table and its rows."""
    points = html.Ul([html.Li("a"), html.Li([dcc.Link("b", href="/")])])
    assert still([points]) == [points]
    assert [type(one) for one in points.children] == [html.Li, html.Li]


def test_a_button_says_what_it_stands_for():
    """The store it fills and the value, escaped."""
    button = html.Button("go", **pressing("people-pressed", {"person": 2}))
    assert ' data-value="{&#34;person&#34;: 2}"' in html_of(button)


def test_a_link_leads_on_without_loading_the_page_anew(page):
    """By mouse and key, a new tab too; what is set anew keeps the focus, and words are words."""
    page.evaluate("window.isSame = true")
    page.get_by_role("link", name="P02", exact=True).focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".banner strong:has-text('P02')")
    assert page.evaluate("window.isSame")
    page.go_back()
    with page.context.expect_page() as opened:
        page.get_by_role("link", name="P01", exact=True).click(modifiers=["ControlOrMeta"])
    opened.value.wait_for_selector(".banner strong:has-text('P01')")
    assert page.locator(".banner strong").count() == 0
    a_button_drawn_anew_under_the_mouse_is_pressed_once(page)
    the_keyboard_stays_where_it_is_when_the_list_is_set_anew(page)
    words_and_attributes_from_elsewhere_stay_words(page)


def a_button_drawn_anew_under_the_mouse_is_pressed_once(page):
    """Between press and release the same button takes the place of the one that was pressed."""
    page.evaluate("""() => {
        const draw = () => '<button data-press="choice" data-value="{}">Held</button>';
        const box = Object.assign(document.createElement('div'), { id: 'held', innerHTML: draw() });
        document.querySelector('main').prepend(box);
        window.sent = 0;
        window.realProps = dash_clientside.set_props;
        dash_clientside.set_props = () => { window.sent += 1; };
        box.addEventListener('pointerdown', () => { box.innerHTML = draw(); }, true);
    }""")
    page.get_by_role("button", name="Held").click(delay=30)
    assert page.evaluate("window.sent") == 1
    page.evaluate("dash_clientside.set_props = window.realProps; held.remove()")


def the_keyboard_stays_where_it_is_when_the_list_is_set_anew(page):
    """Draw the list again in another order; who was at a row still is."""
    page.get_by_role("link", name="P02", exact=True).focus()
    page.evaluate("dash_clientside.set_props('people-search', {value: 'P02'})")
    page.wait_for_selector(".people[aria-label='1 person']")
    assert page.evaluate("document.activeElement.textContent") == "P02"
