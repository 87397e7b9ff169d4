"""The command line: licks kept once, searches that say what is wrong, two licks of one book."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from linewright.cli import main

BOOK = "".join(
    f"X:1\nT:{title}\nM:4/4\nL:1/8\nR:{style}\nK:{key}\n{music}\n\n"
    for title, style, key, music in (
        ("One", "Reel", "G", "GABd g2d2|edBA G4|"),
        ("Two", "Slow Blues", "Am", "ACDE GEDC|A8|"),
    )
)


@pytest.fixture
def book(tmp_path: Path) -> str:
    path = tmp_path / "book.abc"
    path.write_text(BOOK)
    return str(path)


@pytest.fixture
def shelf(tmp_path: Path) -> list[str]:
    return ["--library", str(tmp_path / "shelf.db")]


def test_tunes_that_share_a_number_are_chosen_by_place(
    book: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["analyze", book, "--tune", "2", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["lick"]["title"] == "Two"
    assert main(["analyze", book]) == 2
    assert "1 One; 2 Two" in capsys.readouterr().err


def test_two_tunes_of_one_book_are_compared(book: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", book, book, "--tune", "1", "--second-tune", "2", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["first"], found["second"]) == ("One", "Two")
    assert main(["compare", book, book, "--tune", "2", "--second-tonic", "C", "--json"]) == 0
    assert "C major pentatonic" in capsys.readouterr().out


def test_an_error_names_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good, bad = tmp_path / "good.abc", tmp_path / "bad.abc"
    good.write_text("X:1\nM:4/4\nK:G\nGABc d4|\n")
    bad.write_text("X:1\nM:4/0\nK:G\nGABc|\n")
    assert main(["compare", str(good), str(bad)]) == 2
    assert "bad.abc: line 2" in capsys.readouterr().err


def test_the_same_lick_is_kept_once_unless_asked(
    book: str, shelf: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["keep", book, *shelf]) == 0
    assert "Kept 2 licks." in capsys.readouterr().out
    assert main(["keep", book, "--tags", "new", *shelf]) == 1
    said = capsys.readouterr()
    assert "One is in the library already, as number 1" in said.err
    assert "Kept 0 licks. 2 left out: --again keeps them once more." in said.out
    assert main(["keep", book, "--again", *shelf]) == 0
    assert "Kept 2 licks." in capsys.readouterr().out


def test_searches_do_not_mind_capitals_and_refuse_what_is_unknown(
    book: str, shelf: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    main(["keep", book, "--tags", "Porch", *shelf])
    capsys.readouterr()
    for wish in (["--style", "slow blues"], ["--frame", "Minor Pentatonic"]):
        assert main(["find", *wish, *shelf]) == 0
        out = capsys.readouterr().out
        assert "Two" in out
        assert "One" not in out
    assert main(["find", "--tag", "porch", *shelf]) == 0
    assert "One" in capsys.readouterr().out
    assert main(["find", "--frame", "minor pentatonik", *shelf]) == 2
    assert "minor pentatonic" in capsys.readouterr().err
    assert main(["find", "--outside", "h5", *shelf]) == 2
    assert "h5" in capsys.readouterr().err
