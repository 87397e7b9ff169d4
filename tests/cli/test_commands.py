"""The command line through its own entry point: what it prints, writes and refuses."""

from __future__ import annotations

import io
import itertools
import json
import sys
from fractions import Fraction
from pathlib import Path

import pytest

from linewright.cli import main
from papers import page_sizes, page_texts

TAB = """\
Title: Walk on Home
Key: G
Tempo: 100

  G               C
e|----------------|----------------|
B|----------------|----------------|
G|0---0-----0h2-0-|----0-----------|
D|--0---0-2-------|2-0---2-0-------|
A|----------------|----------2-0---|
E|----------------|--------------3-|
"""
BOOK = """\
X:1
T:One
M:4/4
L:1/8
K:G
GABd g2d2|edBA G4|

X:2
T:Two
M:3/4
L:1/8
K:Am
A2c2e2|a2g2e2|

X:3
T:Broken
M:4/0
K:C
CDEF|
"""


@pytest.fixture
def tab(tmp_path: Path) -> str:
    path = tmp_path / "walk.tab"
    path.write_text(TAB)
    return str(path)


@pytest.fixture
def shelf(tmp_path: Path) -> list[str]:
    return ["--library", str(tmp_path / "library.db")]


def test_analyze_in_words(tab: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["analyze", tab]) == 0
    text = capsys.readouterr().out
    assert text.startswith("Walk on Home\n")
    assert "It hangs on G major pentatonic" in text
    assert "Not major: its 4 and 7 are never heard." in text
    assert "inferred" in text


def test_analyze_as_json(tab: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["analyze", tab, "--json", "--tonic", "E"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["tonic"] == "E"
    assert data["frame"]["name"] == "minor pentatonic"
    assert data["lick"]["tempo"] == 100
    assert data["lick"]["meter"] == "4/4"
    # Fret 0 of the guitar's G string is G3, MIDI 55 (common practice).
    first = data["lick"]["notes"][0]
    assert (first["pitch"], first["midi"], first["string"], first["fret"]) == ("G3", 55, 3, 0)
    assert [c["symbol"] for c in data["lick"]["chords"]] == ["G", "C"]


def test_standard_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(TAB.encode())))
    assert main(["analyze", "-"]) == 0
    assert "G major pentatonic" in capsys.readouterr().out


@pytest.mark.parametrize("ending", ["abc", "musicxml", "mxl", "mid", "json"])
def test_convert_there_and_back(
    tab: str, ending: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = tmp_path / f"lick.{ending}"
    assert main(["convert", tab, "-o", str(made)]) == 0
    assert main(["analyze", str(made), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [n["midi"] for n in data["lick"]["notes"]] == [
        55, 50, 55, 50, 52, 55, 57, 55, 52, 50, 55, 52, 50, 47, 45, 43,
    ]  # fmt: skip
    assert {n["duration"] for n in data["lick"]["notes"]} == {"1/2"}


def test_convert_writes_to_standard_output(
    tab: str, capfdbinary: pytest.CaptureFixture[bytes]
) -> None:
    assert main(["convert", tab, "--to", "tab"]) == 0
    out = capfdbinary.readouterr().out.decode()
    assert "G|" in out
    assert "1 " in out


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_handout(tab: str, tmp_path: Path, paper: str, points: tuple[int, int]) -> None:
    """Paper sizes of ISO 216 and ANSI/ASME Y14.1 in points of 1/72 inch."""
    made = tmp_path / "lesson.pdf"
    assert main(["handout", tab, "-o", str(made), "--paper", paper]) == 0
    width, height = page_sizes(made)[0]
    assert (round(width), round(height)) == points
    assert "G major pentatonic" in page_texts(made)[0]


def test_keep_find_export_import(
    tab: str, tmp_path: Path, shelf: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book.abc"
    book.write_text(BOOK)
    assert main(["keep", tab, str(book), "--tags", "class, week 1", *shelf]) == 1
    kept = capsys.readouterr()
    assert "Kept 3 licks. 1 failed." in kept.out
    assert "tune 3 (Broken)" in kept.err
    assert main(["find", "walk", *shelf]) == 0
    found = capsys.readouterr().out
    assert "Walk on Home" in found
    assert "Two" not in found
    assert main(["find", "--tag", "week 1", "--meter", "3/4", *shelf]) == 0
    assert "Two" in capsys.readouterr().out
    zipped = str(tmp_path / "all.zip")
    assert main(["export", zipped, *shelf]) == 0
    other = ["--library", str(tmp_path / "other.db")]
    assert main(["import", zipped, *other]) == 0
    assert "3 added" in capsys.readouterr().out
    assert main(["find", *other]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 3


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["analyze", "nowhere.tab"], "nowhere.tab cannot be read"),
        (["analyze"], "FILE"),
        (["analyse", "x"], "analyze"),
        (["analyze", "{tab}", "--tonic", "H"], "not a note name"),
        (["analyze", "{tab}", "--bars", "x"], "--bars"),
        (["analyze", "{tab}", "--bars", "7-9"], "7 to 9"),
        (["analyze", "{tab}", "--from", "docx"], "docx"),
        (["analyze", "{tab}", "--repeats", "twice"], "once or play"),
        (["analyze", "{tab}", "--instrument", "kazoo"], "kazoo"),
        (["convert", "{tab}"], "-o PATH or --to FORMAT"),
        (["convert", "{tab}", "-o", "x.docx"], ".docx"),
        (["convert", "{tab}", "-o", "/nowhere/x.abc"], "cannot be written"),
        (["handout", "{tab}", "-o", "x.pdf", "--paper", "a0"], "a0"),
        (["import", "{tab}", "--library", "{tmp}/l.db"], "zip"),
    ],
)
def test_refusals_are_one_line(
    arguments: list[str], words: str, tab: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    filled = [a.replace("{tab}", tab).replace("{tmp}", str(tmp_path)) for a in arguments]
    assert main(filled) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert words in shown.err
    assert shown.err.startswith("linewright: ")
    assert "Traceback" not in shown.err


def test_a_choice_is_offered(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = tmp_path / "book.abc"
    book.write_text(BOOK)
    assert main(["analyze", str(book)]) == 2
    offered = capsys.readouterr().err
    assert "One" in offered
    assert "Two" in offered
    assert main(["analyze", str(book), "--tune", "2"]) == 0
    assert "Two" in capsys.readouterr().out


def test_version_and_help(capsys: pytest.CaptureFixture[str]) -> None:
    from linewright import __version__

    assert main(["--version"]) == 0
    assert __version__ in capsys.readouterr().out
    assert main(["--help"]) == 0
    assert "analyze" in capsys.readouterr().out


def test_a_line_is_made_and_made_again_the_same(
    tab: str, capsys: pytest.CaptureFixture[str]
) -> None:
    wish = ["line", tab, "--over", "G | C | D7 | G", "--bars", "4", "--seed", "5"]
    assert main(wish) == 0
    first = capsys.readouterr().out
    assert "Line on Walk on Home" in first
    assert main(wish) == 0
    assert capsys.readouterr().out == first
    assert main([*wish[:-1], "6"]) == 0
    assert capsys.readouterr().out != first


def test_a_line_keeps_to_what_was_asked(tab: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Only notes of the frame, no leap past the limit, four full bars."""
    assert main(["line", tab, "--bars", "4", "--leap", "5", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    numbers = [note["midi"] for note in data["notes"]]
    assert {n % 12 for n in numbers} <= {7, 9, 11, 2, 4}  # G A B D E
    assert max(abs(a - b) for a, b in itertools.pairwise(numbers)) <= 5
    assert {note["role"] for note in data["notes"]} <= {"frame", "figure"}
    assert all(note["why"] for note in data["notes"])


def test_the_lick_stands_in_the_bars_kept(tab: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["line", tab, "--bars", "4", "--keep", "3-4", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    kept = [n["midi"] for n in data["notes"] if float(Fraction(n["onset"])) >= 8]
    assert kept == [55, 50, 55, 50, 52, 55, 57, 55, 52, 50, 55, 52, 50, 47, 45, 43]


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (["--over", "H7"], "H7"),
        (["--mix", "b5"], "b5=10%"),
        (["--mix", "b5=0.1"], "does not teach"),
        (["--keep", "1-9"], "full bars"),
        (["--leap", "99"], "leap"),
        (["--grid", "waves"], "waves"),
    ],
)
def test_wishes_that_cannot_be_are_refused(
    extra: list[str], words: str, tab: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["line", tab, *extra]) == 2
    assert words in capsys.readouterr().err


def test_keep_goes_on_past_files_that_fail(
    tab: str, tmp_path: Path, shelf: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    empty = tmp_path / "empty.tab"
    empty.write_text("")
    assert main(["keep", str(tmp_path / "missing.tab"), str(empty), tab, *shelf]) == 1
    shown = capsys.readouterr()
    assert "Kept 1 lick. 2 failed." in shown.out
    assert "missing.tab" in shown.err
    assert "empty.tab" in shown.err


def test_a_library_that_is_not_there_is_not_made_by_looking(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    nowhere = tmp_path / "typo.db"
    assert main(["find", "--library", str(nowhere)]) == 2
    assert "no library at" in capsys.readouterr().err
    assert not nowhere.exists()


def test_a_lick_without_a_title_takes_the_files(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "monday_riff.tab"
    path.write_text(TAB.replace("Title: Walk on Home\n", ""))
    assert main(["analyze", str(path)]) == 0
    assert capsys.readouterr().out.startswith("monday riff\n")
