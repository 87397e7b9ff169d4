"""Progressions: typed symbols, numbers, forms. Expected chords are common practice."""

from __future__ import annotations

from fractions import Fraction

import pytest

from linewright.errors import InputError, OptionError
from linewright.lines import FORMS, parse_progression


@pytest.mark.parametrize(
    ("text", "key", "expected"),
    [
        ("G7 | C7 | G7 G7", None, "G7 | C7 | G7 G7"),
        ("G7 C7", None, "G7 | C7"),
        ("1 4 5 6m 2m", "G", "G | C | D | Em | Am"),
        ("17 47 b77", "A", "A7 | D7 | G7"),
        ("12-bar blues in A", None, "A7 | D7 | A7 | A7 | D7 | D7 | A7 | A7 | E7 | D7 | A7 | E7"),
        ("blues", "E", "E7 | A7 | E7 | E7 | A7 | A7 | E7 | E7 | B7 | A7 | E7 | B7"),
        ("ii-V-I in F", None, "Gm7 | C7 | Fmaj7 | Fmaj7"),
        ("ii-V-I in Db", None, "Ebm7 | Ab7 | Dbmaj7 | Dbmaj7"),
        ("minor ii-V-i in Dm", None, "Em7b5 | A7 | Dm7 | Dm7"),
        ("G | % | N.C. | D/F#", None, "G | G | N.C. | D/F#"),
        ("1-4-5", "D", "D | G | A | D"),
    ],
)
def test_chords_are_read(text: str, key: str | None, expected: str) -> None:
    assert parse_progression(text, key=key).text == expected


@pytest.mark.parametrize("form", sorted(FORMS))
@pytest.mark.parametrize("key", ["C", "F#", "Bb", "Ebm"])
def test_every_form_stands_in_every_key(form: str, key: str) -> None:
    found = parse_progression(form, key=key)
    assert found.name == form
    assert len(found.bars) == {
        "12-bar blues": 12, "8-bar blues": 8, "minor blues": 12, "ii-V-I": 4, "minor ii-V-i": 4,
        "rhythm changes": 32, "fiddle tune": 16, "1-4-5": 4, "waltz": 8, "one chord": 1,
    }[form]  # fmt: skip


def test_bars_go_round_or_stop() -> None:
    assert parse_progression("1 5", 5, key="C").text == "C | G | C | G | C"
    spans = parse_progression("C | C G | G").spans(Fraction(4), 4)
    assert [(s.symbol.text, s.onset, s.duration) for s in spans] == [
        ("C", 0, 6), ("G", 6, 6), ("C", 12, 4),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    ["", "|", "H7", "1 4 5", "G7 | foo", "%", "x" * 30000, "C " * 3000, "C D E F G A B C D |"],
)
def test_what_cannot_be_read_says_so(text: str) -> None:
    with pytest.raises(InputError):
        parse_progression(text)


def test_the_word_at_fault_is_named() -> None:
    with pytest.raises(OptionError, match=r"bar 2 .*'foo'"):
        parse_progression("G7 | foo")
