"""linewright plan: text, JSON, paper, calendar, refusals."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from icalendar import Calendar

from linewright.cli import main
from papers import page_sizes, page_texts
from samples import PORCH


@pytest.fixture
def tab(tmp_path: Path) -> str:
    path = tmp_path / "porch.tab"
    path.write_text(PORCH)
    return str(path)


def test_the_plan_to_read(tab: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", tab, "--level", "beginner"]) == 0
    text = capsys.readouterr().out
    for part in ("Practice plan:", "Step 1. Know the frame", "Done when:", "Schedule", "Take care"):
        assert part in text
    assert "e|" in text  # the drills as tab
    assert "Day 7" in text
    assert "Day 8" not in text


def test_the_plan_as_json(tab: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", tab, "--json", "--length", "month", "--seed", "4"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["seed"] == 4
    assert len(found["schedule"]) == 28
    assert all(len(step["examples"]) == 3 for step in found["steps"])


def test_on_another_instrument(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tune = tmp_path / "tune.abc"
    tune.write_text("X:1\nT:Gate\nM:4/4\nL:1/8\nK:G\nGABd edBA|GABd g4|\n")
    assert main(["plan", str(tune), "--json", "--instrument", "mandolin"]) == 0
    found = json.loads(capsys.readouterr().out)
    music = found["steps"][0]["drills"][0]["lick"]
    assert music["instrument"] == "mandolin"
    assert all(1 <= note["string"] <= 4 for note in music["notes"])


@pytest.mark.parametrize(
    ("option", "value"), [("--level", "expert"), ("--length", "year"), ("--tonic", "H")]
)
def test_refusals(tab: str, option: str, value: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", tab, option, value]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_the_plan_to_print_and_for_a_calendar(tab: str, tmp_path: Path) -> None:
    pdf, days = tmp_path / "plan.pdf", tmp_path / "plan.ics"
    assert main(["plan", tab, "-o", str(pdf), "--paper", "letter"]) == 0
    assert page_sizes(pdf)[0][0] == 612  # 8.5 in
    assert "Practice plan" in page_texts(pdf)[0]
    assert main(["plan", tab, "-o", str(days), "--start", "2026-03-02"]) == 0
    events = Calendar.from_ical(days.read_bytes()).walk("VEVENT")
    assert events[0]["dtstart"].dt == date(2026, 3, 2)
    assert main(["plan", tab, "-o", str(days)]) == 0  # begins today


def test_the_plan_written_as_text_and_json(
    tab: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name, options in (("plan.txt", []), ("plan.json", ["--json"])):
        assert main(["plan", tab, "-o", str(tmp_path / name)]) == 0
        assert capsys.readouterr().out == ""
        assert main(["plan", tab, *options]) == 0
        assert (tmp_path / name).read_text() == capsys.readouterr().out


def test_the_handout_with_its_plan(tab: str, tmp_path: Path) -> None:
    alone, both = tmp_path / "a.pdf", tmp_path / "b.pdf"
    assert main(["handout", tab, "-o", str(alone)]) == 0
    assert main(["handout", tab, "-o", str(both), "--plan", "--level", "beginner"]) == 0
    pages = page_texts(both)
    assert len(pages) > len(page_texts(alone))
    assert "for a beginner" in " ".join(pages)


@pytest.mark.parametrize(
    "options",
    [
        ["-o", "plan.doc"],
        ["-o", "no/such/folder/plan.pdf"],
        ["-o", "plan.pdf", "--paper", "foolscap"],
        ["-o", "plan.ics", "--start", "tomorrow"],
        ["-o", "plan.pdf", "--start", "2026-03-02"],
        ["--start", "2026-03-02"],
    ],
)
def test_what_cannot_be_written(
    tab: str, options: list[str], tmp_path: Path, monkeypatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["plan", tab, *options]) == 2
    assert capsys.readouterr().err.count("\n") == 1
