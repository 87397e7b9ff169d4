"""A teacher changes what counts as done in a real browser, by keyboard alone."""

import pytest
from browser_rig import CONTRAST, SMALL, at_desktop, at_phone, chromium

from linewright.services.bring import bring_in
from linewright.services.practising import give_plan
from linewright.services.shelf import keep
from linewright.services.tolerances import change_rules
from samples import PORCH

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(chromium() is None, reason="no chromium on this computer"),
]


@pytest.fixture
def plan(library):
    porch = keep(library, bring_in(PORCH.encode()))
    given = give_plan(library, porch.id, student="Ada Lane", level="beginner")
    change_rules(library, given.id, 1, {"takes": 1}, by="Ms Fields")
    return given


@at_desktop
def test_a_rule_is_changed_put_back_and_undone_by_keyboard(library, page, plan):
    page.goto(f"/plans/{plan.id}#step-1")
    page.get_by_role("link", name="Step 1: Change what counts as done").press("Enter")
    spread = page.get_by_role("textbox", name="Steady")
    spread.fill("77")
    page.get_by_role("textbox", name="Teacher").press("Enter")
    page.get_by_role("status").get_by_text("Saved.").wait_for()
    assert library.plans.get(plan.id).sheet.steps[0].done.spread_ms == 77
    assert page.evaluate(SMALL) == []
    assert page.evaluate(CONTRAST) == []

    own = page.get_by_role("button", name="Steady: the plan’s own, 50 ms")
    own.focus()
    page.keyboard.press("Enter")
    assert spread.input_value() == "50"
    assert page.evaluate("document.activeElement.id") == "r-spread_ms"
    assert own.is_hidden()
    page.get_by_role("button", name="Save", exact=True).press("Enter")
    page.get_by_role("status").get_by_text("Saved.").wait_for()
    assert page.get_by_text("Takes in a row: 1; the plan’s own: 2. Set by Ms Fields").is_visible()
    page.get_by_role("button", name="Undo the last change").press("Enter")
    page.get_by_role("status").get_by_text("taken back").wait_for()
    assert page.get_by_role("textbox", name="Steady").input_value() == "77"
    page.get_by_role("button", name="Back to the plan’s own rules").press("Enter")
    page.get_by_role("status").get_by_text("own rules are back").wait_for()
    assert library.plans.get(plan.id).sheet == plan.sheet


@at_phone
def test_all_steps_are_changed_at_once(library, page, plan):
    page.goto(f"/plans/{plan.id}/rules")
    page.get_by_role("textbox", name="Slips").fill("8")
    page.get_by_role("button", name="Save", exact=True).press("Enter")
    page.get_by_role("status").get_by_text("Saved.").wait_for()
    assert {step.done.slips for step in library.plans.get(plan.id).sheet.steps} == {0.08}
    assert page.evaluate(SMALL) == []
    assert page.evaluate(CONTRAST) == []
