"""The rules of a step changed by a teacher on the page: read, saved, undone, returned, said of a take."""

import re
from fractions import Fraction
from html import unescape

import pytest

from libraries import planned_library
from linewright.services.recording import recorded
from linewright.services.rule_fields import fields_of, notes_on
from linewright.services.takes import Setting, keep_take
from linewright.services.tolerances import change_rules, changed_rules


@pytest.fixture
def library(tmp_path):
    with planned_library(tmp_path / "library.db") as opened:
        yield opened


@pytest.fixture
def plan(library):
    return library.plans.get(1)


def field_of(text, name):
    """What stands in a field of the page."""
    found = re.search(rf'name="{re.escape(name)}" value="([^"]*)"', text)
    assert found, name
    return unescape(found[1])


def typed(library, plan, step, **changes):
    """The whole form as a browser sends it, with some values typed anew."""
    fields = fields_of(library.plans.get(plan.id), step)
    return {field.name: field.value for field in fields} | {"by": "Ms Fields"} | changes


def test_every_rule_is_shown_with_its_default_and_where_it_is_from(client, library, plan):
    text = unescape(client.get(f"/plans/{plan.id}/steps/1/rules").text)
    given = plan.sheet.steps[0].done
    assert field_of(text, "bpm") == str(given.bpm)
    assert field_of(text, "slips") == f"{100 * given.slips:g}"
    assert f"<strong>{given.spread_ms:g} ms</strong>" in text
    assert "this step has the rules it was given with" in text
    labels = len(re.findall(r'class="setting', text))
    assert text.count("The plan’s own: <strong>") == labels == len(fields_of(plan, 1))
    # B. H. Repp, Psychonomic Bulletin & Review 12(6), 2005: named for scale where timing is set
    assert text.count("Repp 2005") == 2
    assert text.count("common practice") == labels
    assert "Undo the last change" not in text


def test_saved_undone_and_returned_to_the_plans_own(client, library, plan):
    address = f"/plans/{plan.id}/steps/1/rules"
    sent = typed(library, plan, 1, spread_ms="62,5", slips="7", leap="12", takes="3")
    text = unescape(client.post(address, data=sent).text)
    assert "Saved." in text
    assert "Steady: <strong>62.5 ms</strong>; the plan’s own: 50 ms. Set by Ms Fields" in text
    done = library.plans.get(plan.id).sheet.steps[0].done
    assert (done.spread_ms, done.slips, done.leap, done.takes) == (62.5, 0.07, 12, 3)
    assert len(library.plans.get(plan.id).changes) == 1
    assert field_of(text, "spread_ms") == "62.5"
    assert "Ms Fields" in unescape(client.get(f"/plans/{plan.id}").text)

    sent = typed(library, plan, 1, slips="9")
    client.post(address, data=sent)
    text = client.post(f"{address}/undo", data={"by": ""}).text
    assert "taken back" in text
    assert library.plans.get(plan.id).sheet.steps[0].done.slips == 0.07

    text = client.post(f"{address}/own", data={"by": "Ms Fields"}).text
    assert "own rules are back" in text
    kept = library.plans.get(plan.id)
    assert kept.sheet == kept.as_given == plan.sheet
    client.post(f"{address}/undo", data={"by": ""})  # and that can be undone as well
    assert library.plans.get(plan.id).sheet.steps[0].done.spread_ms == 62.5


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("spread_ms", "wide", "Steady: 'wide' is not accepted. Use 5 to 250"),
        ("spread_ms", "nan", "Steady: 'nan' is not accepted"),
        ("bpm", "72.5", "a whole number from 20 to 400"),
        ("slips", "60", "Slips: '60' is not accepted. Use 0 to 50"),
        ("takes", "", "Takes in a row: '' is not accepted"),
        ("leap", "99", "Largest leap"),
        ("by", " ", "Say which teacher decides"),
    ],
)
def test_what_cannot_be_is_said_and_what_was_typed_stays(client, library, plan, name, value, words):
    sent = typed(library, plan, 1, mean_ms="44") | {name: value}
    answer = client.post(f"/plans/{plan.id}/steps/1/rules", data=sent)
    assert answer.status_code == 400
    text = unescape(answer.text)
    said = " ".join(re.sub(r"<[^>]+>", " ", text[text.index('role="alert"') :]).split())
    assert words in said
    assert field_of(text, "mean_ms") == "44"
    assert library.plans.get(plan.id).changes == ()


def test_nothing_changed_is_said(client, library, plan):
    answer = client.post(f"/plans/{plan.id}/steps/1/rules", data=typed(library, plan, 1))
    assert answer.status_code == 400
    assert "no rule is changed yet" in answer.text.lower()
    answer = client.post(f"/plans/{plan.id}/rules", data={"by": "Ms Fields"})
    assert answer.status_code == 400


def test_all_steps_at_once_and_back(client, library, plan):
    sent = {"by": "Ms Fields", "spread_ms": "70", "chord_tones": "40", "takes": ""}
    text = client.post(f"/plans/{plan.id}/rules", data=sent).text
    assert "Saved." in text
    kept = library.plans.get(plan.id)
    assert {step.done.spread_ms for step in kept.sheet.steps} == {70}
    for before, after in zip(plan.sheet.steps, kept.sheet.steps, strict=True):
        assert after.done.takes == before.done.takes
        wanted = None if before.done.chord_tones is None else 0.4
        assert after.done.chord_tones == wanted
    assert client.post(f"/plans/{plan.id}/rules/undo").status_code == 200
    assert library.plans.get(plan.id).sheet == plan.sheet
    client.post(f"/plans/{plan.id}/rules", data=sent)
    client.post(f"/plans/{plan.id}/rules/own", data={"by": "Ms Fields"})
    assert library.plans.get(plan.id).sheet == plan.sheet


def test_a_figure_that_need_not_come_can_be_asked_for_again(library, plan):
    number, step = next((s.number, s) for s in plan.sheet.steps if s.done.figures)
    tag, own = step.done.figures[0].tag, step.done.figures[0].times
    change_rules(library, plan.id, number, {"figures": {tag: 0}}, by="Ms Fields")
    kept = library.plans.get(plan.id)
    assert tag not in [rule.tag for rule in kept.sheet.steps[number - 1].done.figures]
    (note,) = notes_on(changed_rules(kept, number))
    assert note.value == "never"
    change_rules(library, plan.id, number, {"figures": {tag: own}}, by="Ms Fields")
    kept = library.plans.get(plan.id)
    assert kept.sheet.steps[number - 1] == step
    assert changed_rules(kept, number) == ()


def test_the_verdict_says_what_the_teacher_changed_and_what_was_changed_since(
    client, library, plan
):
    change_rules(
        library, plan.id, 1, {"bpm": 120, "bars": 2, "takes": 1, "spread_ms": 66}, by="Ms Fields"
    )
    midi = recorded(plan.sheet.steps[0].examples[0].lick, "mid", tempo=Fraction(120))
    take = keep_take(library, plan.id, 1, midi, Setting(120.0, 0.0, 0.0)).take
    address = f"/plans/{plan.id}/takes/{take.id}"
    text = unescape(client.get(address).text)
    assert "Judged by rules the teacher changed" in text
    assert "Steady: <strong>66 ms</strong>; the plan’s own: 50 ms. Set by Ms Fields" in text
    row = text[text.index("at most 66 ms") :]
    assert row.index("changed<span") < row.index("</td>")
    assert text.count("by the teacher; the plan’s own") == 3  # takes in a row have no row here
    assert "no longer those this take was judged by" not in text
    change_rules(library, plan.id, 1, {"spread_ms": 50}, by="Ms Fields")
    text = unescape(client.get(address).text)
    assert "no longer those this take was judged by" in text
    assert "Steady: <strong>66 ms</strong>" in text  # what it was judged by stays said
    client.post(f"{address}/judge")
    text = unescape(client.get(address).text)
    assert "Steady: <strong>66 ms</strong>" not in text
    assert "no longer those" not in text
    (said,) = {row["by"] for row in client.get(f"/api/takes/{take.id}").json()["changed"]}
    assert said == "Ms Fields"


def test_no_such_step_or_plan(client, library, plan):
    assert client.get(f"/plans/{plan.id}/steps/99/rules").status_code == 404
    assert client.get("/plans/99/rules").status_code == 404
    assert client.post(f"/plans/{plan.id}/steps/1/rules/undo").status_code == 404
    client.post(f"/plans/{plan.id}/delete")
    assert client.get(f"/plans/{plan.id}/steps/1/rules").status_code == 404


def test_the_same_by_the_api(client, library, plan):
    said = {"by": "Ms Fields", "changes": {"spread_ms": 71}}
    answer = client.patch(f"/api/plans/{plan.id}/rules", json=said).json()
    assert {step["done"]["spread_ms"] for step in answer} == {71}
    assert len(answer) == len(plan.sheet.steps)
    back = {"by": "Ms Fields", "step": 2}
    answer = client.post(f"/api/plans/{plan.id}/rules/as-given", json=back).json()
    assert [s["done"]["spread_ms"] for s in answer[:3]] == [71, 50, 71]
    answer = client.post(f"/api/plans/{plan.id}/rules/undo?step=2").json()
    assert answer["done"]["spread_ms"] == 71
    client.post(f"/api/plans/{plan.id}/rules/undo")
    assert library.plans.get(plan.id).sheet == plan.sheet
    assert client.post(f"/api/plans/{plan.id}/rules/undo").status_code == 404
