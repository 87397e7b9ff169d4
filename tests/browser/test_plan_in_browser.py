"""The practice plan in a real browser, at desktop and phone width: opening, giving, marking, undo."""

import pytest
from browser_rig import CONTRAST, SMALL, at_phone, chromium

from linewright.services.bring import bring_in
from linewright.services.practising import give_plan, mark_step
from linewright.services.shelf import keep
from samples import PORCH

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(chromium() is None, reason="no chromium on this computer"),
]

NOTES = "[data-score] svg.engraving:visible [data-note][role=img]"


@at_phone
def test_a_plan_is_made_opened_given_and_marked(page, library):
    porch = keep(library, bring_in(PORCH.encode()))
    page.goto(f"/licks/{porch.id}")
    practise = page.get_by_role("region", name="Practise")
    practise.get_by_label("For").select_option("beginner")
    practise.get_by_role("button", name="Practice plan").click()
    page.get_by_role("heading", level=1, name="Practice plan: Porch step").wait_for()
    assert "level=beginner" in page.url

    # The music comes when a step is opened, here by key, and its notes can be gone through.
    assert page.locator(NOTES).count() == 0
    page.locator("#step-2 summary").first.focus()
    page.keyboard.press("Enter")
    page.locator(f"#step-2 {NOTES}").first.wait_for()
    line = page.get_by_role("region", name="Line 1", exact=True)
    line.locator("[data-note][role=img]:visible").first.focus()
    page.keyboard.press("ArrowRight")
    assert "Frame" in line.locator("[data-says]").inner_text()

    page.get_by_label("Name").fill("Ada Lane")
    page.get_by_role("button", name="Give the plan").click()
    page.get_by_role("heading", level=1, name="Ada Lane: Porch step").wait_for()
    page.locator(f"#step-1 {NOTES}").first.wait_for()  # where the player is, is open

    # A step that is held back has no music and no way to mark it.
    page.locator("#step-2 summary").first.click()
    assert "Held back by step 1" in page.locator("#step-2").inner_text()
    assert page.locator(f"#step-2 {NOTES}").count() == 0
    assert page.locator("#step-2").get_by_role("button", name="Mark as done").count() == 0

    first = page.locator("#step-1")
    first.get_by_label("Comment").fill("clean at the top tempo")
    first.get_by_role("button", name="Mark as done").click()
    page.get_by_role("status").get_by_text("clean at the top tempo").wait_for()
    assert "At step 2 of" in page.locator("main").inner_text()

    # A teacher lets the player past a step, with a name.
    second = page.locator("#step-2")
    if not second.locator("details").first.evaluate("d => d.open"):
        second.locator("summary").first.click()
    second.get_by_text("A teacher lets the player past").click()
    second.get_by_role("button", name="Let past without it").click()
    page.get_by_role("alert").get_by_text("which teacher").wait_for()
    second = page.locator("#step-2")
    second.get_by_label("Teacher").fill("the teacher")
    second.get_by_role("button", name="Let past without it").click()
    page.get_by_text("At step 3 of").wait_for()
    page.get_by_role("status").get_by_role("button", name="Undo").click()
    page.get_by_text("At step 2 of").wait_for()

    page.get_by_role("link", name="Practice", exact=True).click()
    assert "At step 2 of" in page.get_by_role("region", name="Ada Lane").inner_text()


def test_targets_are_large_enough_and_text_has_contrast(page, library):
    """WCAG 2.2 AA: 2.5.8 target size (24 px), 1.4.3 contrast (4.5 to 1)."""
    porch = keep(library, bring_in(PORCH.encode()))
    plan = give_plan(library, porch.id, student="Bo")
    mark_step(library, plan.id, 1, "done", comment="clean")
    mark_step(library, plan.id, 2, "opened", by="the teacher")
    for path in (f"/licks/{porch.id}/plan/steps/1", f"/plans/{plan.id}", "/practice"):
        page.goto(path)
        for details in page.locator("main details").all():
            details.evaluate("d => { d.open = true; }")
        page.wait_for_function("() => !document.querySelector('[data-busy]')")
        assert page.evaluate(SMALL) == [], path
        assert page.evaluate(CONTRAST) == [], path
