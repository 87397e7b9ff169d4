"""linewright move: files, JSON, refusals."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from linewright.cli import main

TUNE = 'X:1\nT:Gate\nM:4/4\nL:1/8\nK:C\n"C"CEGc BGE2|"F"FAcA "C"G2C2|\n'


@pytest.fixture
def tune(tmp_path: Path) -> str:
    path = tmp_path / "gate.abc"
    path.write_text(TUNE)
    return str(path)


def test_another_key_as_abc(tune: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["move", tune, "--key", "D", "--to", "abc"]) == 0
    assert "K:D" in capsys.readouterr().out


def test_changes_are_told_beside_the_tab(tune: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["move", tune, "--quality", "minor", "--no-open"]) == 0
    told = capsys.readouterr()
    assert "e|" in told.out
    assert told.err.count("is now b3") == 2
    assert told.err.count("is now b7") == 1


def test_as_json_and_to_a_file(
    tune: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = ["--instrument", "mandolin", "--by-beats", "-1/2", "--position", "2"]
    assert main(["move", tune, *options, "--json"]) == 0
    body = json.loads(capsys.readouterr().out)
    assert body["instrument"] == "mandolin"
    assert all(1 <= note["string"] <= 4 for note in body["notes"])
    assert len(body["words"]) == 2
    path = tmp_path / "moved.mid"
    assert main(["move", tune, *options, "--to", "midi", "-o", str(path)]) == 0
    assert path.read_bytes()[:4] == b"MThd"


@pytest.mark.parametrize(
    "options",
    [
        [], ["--key", "H"], ["--quality", "blue"], ["--position", "30"], ["--by-beats", "soon"],
        ["--tuning", "x"], ["--instrument", "kazoo"], ["--key", "D", "--to", "pdf"],
    ],
)  # fmt: skip
def test_refusals(tune: str, options: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["move", tune, *options]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_another_octave_is_told(tune: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["move", tune, "--octaves", "1", "--to", "abc"]) == 0
    assert capsys.readouterr().err == "It is an octave higher\n"
    assert main(["move", tune, "--octaves", "0", "--to", "abc"]) == 0
    assert capsys.readouterr().err == ""
