"""Run axe-core on a page, with the rules of WCAG 2.2 A and AA."""

from pathlib import Path

AXE = Path(__file__).with_name("axe.min.js")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]
RUN = """rules => {
  scrollTo(0, 0);
  return axe.run(document, {runOnly: rules, resultTypes: ['violations']});
}"""
"""From the top, where the bar of a person covers nothing; what is right is told in short."""


def violations(page):
    """Return what axe finds wrong on the page: rule and the elements, empty for none."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate(RUN, RULES)
    return [
        (one["id"], [node["html"][:200] for node in one["nodes"]]) for one in found["violations"]
    ]
