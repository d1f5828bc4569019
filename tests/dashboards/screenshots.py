"""Take a picture of every screen: wide and narrow, light and dark, and as printed.

``python -m tests.dashboards.screenshots OUT`` makes a small made-up study, or takes the one named
by ``--study``; it needs Chromium and playwright, as the tests do.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import click
from playwright.sync_api import Browser, sync_playwright

from dashboards.app import SCREENS
from gaittrack.commands.made_up_study import ensure_made_up_study
from tests.dashboards.conftest import CHROMIUM_OPTIONS, Served, chromium
from tests.dashboards.settled import choose, settle

WIDTHS = {"wide": 1366, "phone": 390}
FOR_README = ("/overview", "/for-the-person")


@click.command()
@click.argument("out", type=click.Path(file_okay=False, path_type=Path))
@click.option(
    "--study", type=click.Path(exists=True, path_type=Path), help="In place of a new one."
)
@click.option("--person", default=1, show_default=True, help="Row number of who is chosen.")
@click.option("--only", help="Only the screen of this address.")
@click.option("--for-readme", is_flag=True, help="Only the two pictures that the README shows.")
def main(out: Path, study: Path | None, person: int, only: str | None, *, for_readme: bool) -> None:
    """Write one PNG per screen, width and theme, and one PDF per screen, into OUT."""
    out.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name, sync_playwright() as started:
        if study is None:
            study = Path(name) / "study"
            ensure_made_up_study(study, 8)
        served = Served(study)
        browser = started.chromium.launch(executable_path=chromium(), args=CHROMIUM_OPTIONS)
        try:
            if for_readme:
                take_for_readme(browser, served, out)
                return
            for address, title, _ in SCREENS:
                if only in (None, address):
                    take(browser, served, address, person, out / title.lower().replace(" ", "-"))
        finally:
            browser.close()
            served.close()


def take_for_readme(browser: Browser, served: Served, out: Path) -> None:
    """Take the first screenful of what P02's brace changes, for them and for who treats them."""
    for address in FOR_README:
        context = browser.new_context(viewport={"width": 1366, "height": 900}, color_scheme="light")
        context.request.get(served.address)
        page = context.new_page()
        page.goto(f"{served.base}{address}?person=2")
        settle(page)
        page.screenshot(path=out / f"{address.strip('/')}.png")
        context.close()


def take(browser: Browser, served: Served, address: str, person: int, stem: Path) -> None:
    """Take the pictures of one screen; ``stem`` is their path without width, theme and suffix."""
    for theme in ("light", "dark"):
        for width_name, width in WIDTHS.items():
            context = browser.new_context(
                viewport={"width": width, "height": 900}, color_scheme=theme
            )
            context.request.get(served.address)
            choose(context, {"person": person})
            page = context.new_page()
            page.goto(served.base + address)
            try:
                settle(page)
            except AssertionError:
                click.echo(f"{address} had not come to rest", err=True)
            picture = stem.with_name(f"{stem.name}-{width_name}-{theme}.png")
            page.screenshot(path=picture, full_page=True)
            click.echo(picture)
            if (width_name, theme) == ("wide", "light"):
                page.pdf(path=stem.with_suffix(".pdf"), prefer_css_page_size=True)
                click.echo(stem.with_suffix(".pdf"))
            context.close()


if __name__ == "__main__":
    main()
