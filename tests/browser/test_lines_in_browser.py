"""Making lines in a real browser, at desktop and phone width: sliders, held bars, keeping."""

import re

import pytest
from browser_rig import at_phone, chromium

from linewright.services.bring import bring_in
from linewright.services.shelf import keep
from linewright.store import Query
from samples import PORCH

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(chromium() is None, reason="no chromium on this computer"),
]

NOTES = "[data-score] svg.engraving:visible [data-note][role=img]"
TITLES = "els => els.map(e => e.querySelector('title').textContent)"


def in_bar(titles, number):
    """What stands in a bar, without the reasons, which say when a note is held."""
    return [t.split(". ")[0] for t in titles if re.search(rf"\bbar {number},", t)]


@at_phone
def test_lines_are_made_held_undone_and_kept(page, library):
    porch = keep(library, bring_in(PORCH.encode()))
    page.goto(f"/licks/{porch.id}")
    page.get_by_label("Chords to play over").fill("12-bar blues")
    page.get_by_role("button", name="Make a line").click()
    page.get_by_role("heading", level=1, name="Lines on").wait_for()
    notes = page.locator(NOTES)
    titles = notes.evaluate_all(TITLES)
    assert len(titles) > 60

    # A slider by keyboard: the line, asked and got change in place, and the focus stays.
    slider = page.get_by_role("slider", name="blue note")
    got = page.locator(f"#{slider.get_attribute('aria-describedby')}")
    said = got.inner_text()
    slider.focus()
    for _ in range(8):
        page.keyboard.press("ArrowRight")
    value = int(slider.input_value())
    page.wait_for_function(
        "([id, v]) => document.getElementById(id).textContent.includes(`Asked ${v} %`)",
        arg=[got.get_attribute("id"), value],
    )
    assert slider.evaluate("s => s === document.activeElement")
    assert got.inner_text() != said
    assert f"m.b5={value}" in page.url
    changed = notes.evaluate_all(TITLES)
    assert changed != titles
    # The score and the slider are both in sight.
    sheet, own = page.locator("[data-sheet]").bounding_box(), slider.bounding_box()
    assert sheet["y"] >= 0
    assert own["y"] >= sheet["y"] + sheet["height"]
    assert own["y"] + own["height"] <= page.viewport_size["height"]

    # A note says why it is there, by key.
    notes.first.focus()
    page.keyboard.press("ArrowRight")
    says = page.locator("[data-says]").inner_text()
    assert re.search(r"(Frame|Figure|Outside)", says)

    # Held bars stay through another line; undo brings the line before back.
    page.get_by_role("checkbox", name="bar 2", exact=True).check()
    page.get_by_role("button", name="Another").click()
    page.wait_for_url(re.compile("seed=1"))
    another = notes.evaluate_all(TITLES)
    assert in_bar(another, 2) == in_bar(changed, 2)
    assert in_bar(another, 5) != in_bar(changed, 5)
    page.get_by_role("link", name="Undo").click()
    page.wait_for_function("() => !location.search.includes('seed=1')")
    assert notes.evaluate_all(TITLES) == changed

    # What cannot be is said, and nothing is lost.
    page.get_by_label("First note").fill("zz")
    page.get_by_role("alert").wait_for()
    assert "neither a degree nor a pitch" in page.get_by_role("alert").inner_text()
    assert notes.count() == len(changed)
    assert slider.input_value() == str(value)
    page.get_by_label("First note").fill("")
    page.get_by_role("alert").wait_for(state="detached")

    # A reason that is chosen has its note in sight in the sheet.
    page.get_by_text("reasons, bar by bar").click()
    page.locator(".whys button").last.focus()
    lit = page.locator("[data-score] svg:visible [data-note].lit").first.bounding_box()
    sheet = page.locator("[data-sheet]").bounding_box()
    assert sheet["y"] <= lit["y"] <= sheet["y"] + sheet["height"]

    page.get_by_label("Title").fill("Latch line")
    page.get_by_role("button", name="Keep as a lick").click()
    page.get_by_role("heading", level=1, name="Latch line").wait_for()
    assert library.search(Query(tag="line")).total == 1


def test_a_request_in_error_shows_no_empty_choice_and_no_button_alone(page, library):
    porch = keep(library, bring_in(PORCH.encode()))
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"/licks/{porch.id}/lines?over=H7")
    page.locator("#line-error .problem").wait_for()
    assert page.locator(".player select:visible").count() == 0
    page.goto(f"/licks/{porch.id}/lines")
    page.locator(".player [data-from] option").first.wait_for(state="attached")
    assert page.locator(".player [data-from]").is_visible()
    tops = page.locator(".made .actions :is(button, .button):visible").evaluate_all(
        "els => els.map(e => Math.round(e.getBoundingClientRect().top))"
    )
    assert len(tops) == 4
    assert all(tops.count(top) == 2 for top in tops)


def test_targets_are_large_enough_and_simpler_moves_the_form(page, library):
    porch = keep(library, bring_in(PORCH.encode()))
    page.goto(f"/licks/{porch.id}/lines?bars=16")
    small = page.evaluate(
        """() => [...document.querySelectorAll("main :is(a, button, input, select, summary)")]
        .filter((e) => e.checkVisibility() && e.type !== "hidden")
        .map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
        .filter(([, b]) => b.width < 24 || b.height < 24).map(([text]) => text)"""
    )  # WCAG 2.2, 2.5.8 Target Size (Minimum): 24 by 24 CSS pixels
    assert small == []
    page.get_by_role("button", name="Simpler").click()
    page.wait_for_url(re.compile("leap=5"))
    assert page.get_by_label("No leap over").input_value() == "5"
    assert page.get_by_role("button", name="Simpler").evaluate("b => b === document.activeElement")
