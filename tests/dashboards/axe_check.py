"""Run axe-core on a page, with the rules of WCAG 2.2 A and AA."""

from pathlib import Path

AXE = Path(__file__).with_name("axe.min.js")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]
RUN = """([where, how]) => {
  scrollTo(0, 0);
  return axe.run(where, {...how, resultTypes: ['violations'], preload: false});
}"""
"""From the top, where the bar of a person covers nothing; what is right is told in short."""
AGAIN = ["color-contrast", "link-in-text-block", "target-size", "scrollable-region-focusable"]
"""Rules that ask for colours and sizes: another theme or width changes nothing else."""


def violations(page, where="html", *, again=False):
    """Return what axe finds wrong on the page: rule and the elements, empty for none.

    Parameters
    ----------
    where : str
        A selector: the part of the page to look at, where the rest has been looked at.
    again : bool
        The page was looked at, and only its theme or width is another one now.
    """
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.read_text(encoding="utf-8"))
    how = {"type": "rule", "values": AGAIN} if again else {"type": "tag", "values": RULES}
    found = page.evaluate(RUN, [where, {"runOnly": how}])
    return [
        (one["id"], [node["html"][:200] for node in one["nodes"]]) for one in found["violations"]
    ]
