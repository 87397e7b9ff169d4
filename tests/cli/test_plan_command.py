"""linewright plan: text, JSON, refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from linewright.cli import main
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
