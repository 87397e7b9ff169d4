"""The plan on paper: everything said is on it, no title stands alone, every page is numbered."""

from __future__ import annotations

import re

import pytest

from linewright.analysis import analyze
from linewright.errors import OptionError
from linewright.page.handout import handout_inputs
from linewright.page.plan_sheets import plan_pdf
from linewright.page.signs import musical
from linewright.practice import PlanSheet, make_plan, sheet_of
from linewright.services.bring import bring_in
from linewright.services.demo_library import demo_licks
from papers import page_sizes, page_texts
from samples import PORCH


@pytest.fixture(scope="module")
def sheet() -> PlanSheet:
    brought = bring_in(PORCH.encode())
    return sheet_of(make_plan(brought.analysis), brought.lick)


@pytest.fixture(scope="module")
def pages(sheet: PlanSheet) -> list[str]:
    return page_texts(plan_pdf(sheet))


def flat(text: str) -> str:
    return " ".join(text.split())


def test_everything_the_plan_says_is_on_it(sheet: PlanSheet, pages: list[str]) -> None:
    text = flat(" ".join(pages))
    said = [sheet.title, *sheet.cautions, *(day.words for day in sheet.schedule)]
    for step in sheet.steps:
        said += [step.title, step.purpose, *step.rules, *step.if_not]
        said += [part for piece in step.pieces for part in (piece.title, piece.words)]
        said += [str(bpm) for bpm in step.tempo_ladder]
    for sentence in said:
        assert flat(musical(sentence)) in text
    assert all(len(step.examples) == 3 for step in sheet.steps)
    assert text.count("Line 3") == len(sheet.steps)


def test_pages_are_numbered_and_the_contents_name_them(sheet: PlanSheet, pages: list[str]) -> None:
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in flat(page)
    for step in sheet.steps:
        title = flat(musical(step.title))
        (told,) = re.findall(rf"{re.escape(title)} page (\d+)", flat(pages[0]))
        assert title in flat(pages[int(told) - 1])


def test_no_title_is_left_at_the_foot_of_a_page() -> None:
    # Twelve steps, swung, with pieces of every length.
    lick = [brought.lick for _, brought in demo_licks()][4]
    sheet = sheet_of(make_plan(analyze(lick)), lick)
    pages = page_texts(plan_pdf(sheet, paper="letter"))
    titles = {flat(musical(s.title)) for s in sheet.steps}
    titles |= {flat(musical(p.title)) for s in sheet.steps for p in s.pieces}
    titles |= {"Drills", "It is done when", "Take care", "The steps"}
    for page in pages:
        lines = [flat(line) for line in page.splitlines() if line.strip()]
        body = [line for line in lines if not re.search(r"page \d+ of \d+$", line)]
        assert body[-1] not in titles
        assert not body[-1].startswith("Lines of this step")
        assert not body[0].startswith("Done on")  # the line to sign stands with the last rules


@pytest.mark.parametrize(
    ("paper", "size"),
    [("a4", (210 / 25.4 * 72, 297 / 25.4 * 72)), ("letter", (8.5 * 72, 11 * 72))],
)
def test_the_paper_is_as_its_standard_says(sheet: PlanSheet, paper: str, size: tuple) -> None:
    # ISO 216: A4 is 210 by 297 mm. ANSI/ASME Y14.1: letter is 8.5 by 11 in.
    for found in page_sizes(plan_pdf(sheet, paper=paper)):
        assert found == pytest.approx(size, abs=0.5)


def test_behind_a_handout_pages_are_counted_through(sheet: PlanSheet, pages: list[str]) -> None:
    inputs = handout_inputs(analyze(sheet.lick))
    found = [flat(page) for page in page_texts(plan_pdf(sheet, handout=inputs))]
    assert "Practice plan" not in found[0]
    assert sheet.lick.title in found[0]
    assert found[-1].endswith(f"page {len(found)} of {len(found)}")
    assert len(found) > len(pages)


def test_progress_counts_every_piece(sheet: PlanSheet) -> None:
    told: list[tuple[int, int, str]] = []
    plan_pdf(sheet, progress=lambda *step: told.append(step))
    assert [done for done, _, _ in told] == list(range(1, sheet.pieces + 1))
    assert {total for _, total, _ in told} == {sheet.pieces}


def test_hostile_text_is_printed_not_run() -> None:
    text = PORCH.replace("Porch step", '#panic("x") *bold* </svg> $x$ \\ "quoted"')
    brought = bring_in(text.encode())
    sheet = sheet_of(make_plan(brought.analysis), brought.lick)
    first = page_texts(plan_pdf(sheet))[0]
    assert '#panic("x") *bold* </svg> $x$' in flat(first)


def test_another_paper_is_refused(sheet: PlanSheet) -> None:
    with pytest.raises(OptionError, match="foolscap"):
        plan_pdf(sheet, paper="foolscap")
