"""The words: number, article and distance as a teacher says them, and the notes they are about."""

from __future__ import annotations

import re

import pytest
from phrases import phrase

from linewright.analysis import Analysis, analyze
from linewright.analysis.prose import article, counted, interval, whole
from linewright.analysis.words import describe, paragraphs
from linewright.services.demo_library import demo_licks


@pytest.fixture(scope="module")
def analyses() -> list[Analysis]:
    return [brought.analysis for _, brought in demo_licks()]


def test_counted_nouns_agree(analyses: list[Analysis]) -> None:
    """One of a thing is singular, several are plural (common practice)."""
    for analysis in analyses:
        text = describe(analysis)
        assert not re.search(r"\b(one|1) \w+(?<!s)s (on|inside|of|with)\b", text)
        assert not re.search(r"\b1 (bars|notes|frets|strings|rests|shifts)\b", text)
        assert not re.search(
            r"\b(two|three|four|five|\d\d?) (note|fret|rest|string|shift|hammer-on|bar)\b", text
        )
        assert not re.search(r"\ba [aeio8]\w* |\ban (?!hour)[^aeiou8\W1]", text)


def test_open_strings_are_counted_as_notes(analyses: list[Analysis]) -> None:
    """A guitar has six strings: thirteen open ones cannot be (common practice)."""
    for analysis in analyses:
        assert not re.search(r"\d+ open strings", describe(analysis))


@pytest.mark.parametrize(
    ("word", "wanted"),
    [("eighth", "an"), ("sixth", "a"), ("8th", "an"), ("11th", "an"), ("18th", "an"),
     ("7th", "a"), ("80", "an"), ("unison", "a"), ("arpeggio run", "an"), ("scale run", "a")],
)  # fmt: skip
def test_articles(word: str, wanted: str) -> None:
    assert article(word) == wanted


@pytest.mark.parametrize(
    ("semitones", "wanted"),
    [(1, "a semitone"), (-2, "a whole step"), (3, "a minor third"), (6, "a tritone"),
     (8, "a minor sixth"), (11, "a major seventh"), (12, "an octave"),
     (15, "an octave and a minor third"), (24, "two octaves")],
)  # fmt: skip
def test_intervals_by_their_names(semitones: int, wanted: str) -> None:
    assert interval(semitones) == wanted


def test_numbers_and_capitals() -> None:
    assert counted(1, "rest") == "one rest"
    assert counted(0, "rest") == "no rests"
    assert counted(13, "note") == "13 notes"
    assert whole("b5 goes home") == "b5 goes home."
    assert whole("bars agree") == "Bars agree."


def test_every_sentence_knows_its_notes(analyses: list[Analysis]) -> None:
    for analysis in analyses:
        said = {part.key: part.said for part in paragraphs(analysis)}
        count = len(analysis.lick.notes)
        for sentences in said.values():
            for sentence in sentences:
                assert sentence.text.endswith(".")
                assert all(0 <= index < count for index in sentence.notes)
        for figure, number in zip(analysis.figures, range(1, 99), strict=False):
            own = [s for s in said["figures"] if s.about == f"f{number}"]
            assert own[0].notes == tuple(i for i in range(count) if figure.holds(i))
        outside = said.get("outside", ())[: len(analysis.outside_notes)]
        for sentence, note in zip(outside, analysis.outside_notes, strict=False):
            assert (sentence.notes, sentence.about) == ((note.index,), note.degree.name)


def test_a_flat_seventh_in_a_jig_is_no_blue_note() -> None:
    """C natural in a D major jig, left by leap, is a borrowed colour of the pipes (common
    practice); the same phrase called a blues has a blue note.
    """
    tune = phrase(
        "D4 F#4 A4 D5 A4 F#4 E4 G4 B4 E5 C5 G4 F#4 A4 D5 A4 F#4 D4 E4 C#4 E4 D4:3/2", meter="6/8"
    )
    functions = {
        style: {n.function for n in analyze(tune.with_(style=style), tonic="D").outside_notes}
        for style in ("jig", "slip jig", "slow blues")
    }
    assert "blue note" in functions["slow blues"]
    assert "blue note" not in functions["jig"] | functions["slip jig"]
