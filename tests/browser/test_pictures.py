"""Pictures of the pages for the documentation, taken when LINEWRIGHT_PICTURES=1."""

import os
from pathlib import Path

import pytest
from browser_rig import FLAGS, chromium, served

from linewright.services.demo_library import add_demo_licks
from linewright.services.shelf import Query

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(
        os.environ.get("LINEWRIGHT_PICTURES") != "1" or chromium() is None,
        reason="set LINEWRIGHT_PICTURES=1 to take the pictures",
    ),
    pytest.mark.xdist_group("browser"),
]
TARGET = Path(__file__).parents[2] / "docs" / "pictures"
TYPED = """\
title: Gate latch
key: G

e|-----------------|-----------------|
B|-----------------|-----------------|
G|-----0-3-0-------|-----------------|
D|-3-5-------5-3-5-|-5---3-?-5-------|
A|-----------------|-----------------|
E|-----------------|-----------------|
"""


def test_take_pictures(tmp_path):
    from playwright.sync_api import sync_playwright

    TARGET.mkdir(parents=True, exist_ok=True)
    with served(tmp_path / "demo.db") as (library, address), sync_playwright() as playwright:
        add_demo_licks(library)
        lick = next((e.id for e in library.search(Query(outside="b5", sort="oldest")).entries), 1)
        browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        for size, width, height in (("", 1100, 900), ("-phone", 390, 844)):
            page = browser.new_page(viewport={"width": width, "height": height})
            page.goto(f"{address}/")
            page.screenshot(path=TARGET / f"library{size}.png")
            page.goto(f"{address}/licks/{lick}")
            page.locator(".outside-notes button").first.focus()
            page.evaluate("scrollTo(0, 0)")
            page.screenshot(path=TARGET / f"lick{size}.png")
            page.screenshot(path=TARGET / f"lesson{size}.png", full_page=True)
            page.goto(f"{address}/licks/{lick}/edit")
            page.screenshot(path=TARGET / f"edit{size}.png")
            page.goto(f"{address}/new")
            area = page.get_by_label("Text tab or ABC")
            area.fill(TYPED.replace("?", "-"))
            page.locator("[data-score] svg.engraving:visible").wait_for()
            page.screenshot(path=TARGET / f"typing{size}.png")
            area.fill(TYPED)
            page.get_by_role("button", name="Go there").wait_for()
            page.screenshot(path=TARGET / f"error{size}.png")
            page.close()
        browser.close()
    assert len(list(TARGET.glob("*.png"))) >= 12
