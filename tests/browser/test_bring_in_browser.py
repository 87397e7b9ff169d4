"""Typing a lick: after a mistake the picture of before is greyed, and that is said."""

import pytest
from browser_rig import at_phone, chromium

from samples import BARE

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(chromium() is None, reason="no chromium on this computer"),
]


@at_phone
def test_an_old_preview_is_greyed_and_said(page):
    page.goto("/new")
    area = page.get_by_label("Text tab or ABC")
    area.fill(BARE)
    page.locator("[data-preview] svg:visible").first.wait_for()
    said = page.get_by_text("as it was before this mistake")
    assert not said.is_visible()
    area.fill("Meter: 4/0\n" + BARE)
    said.wait_for()
    assert "stale" in page.locator("[data-preview]").get_attribute("class")
    area.fill(BARE)
    said.wait_for(state="hidden")
    assert "stale" not in page.locator("[data-preview]").get_attribute("class")


@at_phone
def test_a_mistake_the_form_was_sent_with_is_said_once(page):
    page.goto("/new")
    area = page.get_by_label("Text tab or ABC")
    area.fill(BARE)
    page.get_by_text("Title, style, tags, tonic, octave").click()
    page.get_by_label("Tonic").first.fill("H")
    page.get_by_role("button", name="Show it first").click()
    said = page.get_by_text("'H' is not a note name")
    said.first.wait_for()
    page.wait_for_load_state("networkidle")
    assert said.count() == 1
    page.get_by_label("Tonic").first.fill("A")
    said.wait_for(state="detached")
    page.locator("[data-preview] svg:visible").first.wait_for()
