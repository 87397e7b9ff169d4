"""Bringing in: one lick, a whole book, and what goes wrong on the way."""

import pytest

from linewright.errors import ChoiceNeeded, OptionError, ReadError
from linewright.formats import ReadOptions
from linewright.services.bring import bring_in, bring_in_all, contents, on_the_neck
from samples import BARE, BOOK, PORCH, TWO_VOICES


def test_a_tab_comes_in_read_placed_and_analysed():
    brought = bring_in(PORCH.encode(), "porch.tab")
    assert brought.lick.title == "Porch step"
    assert brought.analysis.tonic.name == "G"
    # Common practice: in G the b5 is Db and lies at the 2nd fret of the guitar's B string.
    (outside,) = brought.analysis.outside_notes
    note = brought.analysis.lick.notes[outside.index]
    assert (str(outside.degree), note.pitch.pitch_class.name) == ("b5", "Db")
    assert (note.string, note.fret) == (2, 2)


def test_a_tab_without_rhythm_says_how_it_was_inferred():
    brought = bring_in(BARE.encode(), "bare.tab")
    assert len(brought.lick.notes) == 4
    assert brought.remarks


def test_notes_without_places_get_them():
    brought = bring_in(b"X:1\nT:t\nM:4/4\nL:1/4\nK:G\nGABd|", "t.abc")
    assert brought.lick.instrument is not None
    assert brought.lick.instrument.name == "guitar"
    assert all(note.string for note in brought.lick.notes)


def test_what_the_neck_cannot_reach_comes_in_without_places_and_says_so():
    brought = bring_in(b"X:1\nT:t\nM:4/4\nL:1/4\nK:C\nC,,,DEF|", "t.abc")
    assert [note.string for note in brought.lick.notes] == [None] * 4
    assert any("without tab" in remark for remark in brought.remarks)
    assert on_the_neck(brought.lick).notes == brought.lick.notes


def test_a_tonic_asked_for_is_used_and_checked():
    brought = bring_in(PORCH.encode(), tonic="Bb")
    assert (brought.analysis.tonic.name, brought.analysis.tonic_source) == ("Bb", "given")
    assert brought.tonic == "Bb"
    with pytest.raises(OptionError, match="not a note name"):
        bring_in(PORCH.encode(), tonic="H")


def test_a_wrong_tonic_is_said_of_the_option():
    with pytest.raises(OptionError, match=r"the tonic asked for: 'H' is not a note name. Write"):
        bring_in(PORCH.encode(), "porch.tab", tonic="H")


def test_voices_have_to_be_chosen():
    with pytest.raises(ChoiceNeeded) as caught:
        bring_in(TWO_VOICES.encode(), "two.abc")
    picked = bring_in(
        TWO_VOICES.encode(), "two.abc", options=ReadOptions(voice=caught.value.options[1])
    )
    assert [str(note.pitch) for note in picked.lick.notes] == ["C4", "D4", "E4", "F4"]


def test_a_book_comes_in_and_its_failures_are_named():
    seen = []
    book = bring_in_all(BOOK.encode(), "book.abc", progress=lambda *step: seen.append(step))
    assert [(n, b.lick.title) for n, b in book.tunes] == [(1, "First Gate"), (3, "Last Gate")]
    (failure,) = book.failures
    assert (failure.number, failure.title) == (2, "Broken Gate")
    assert "key" in str(failure.error)
    assert [step[:2] for step in seen] == [(1, 3), (2, 3), (3, 3)]


def test_tunes_of_a_book_can_be_chosen():
    assert contents(BOOK.encode(), "book.abc") == (
        (1, "First Gate"),
        (2, "Broken Gate"),
        (3, "Last Gate"),
    )
    book = bring_in_all(BOOK.encode(), "book.abc", chosen={3})
    assert [number for number, _ in book.tunes] == [3]
    assert not book.failures


@pytest.mark.parametrize("data", [b"", b"\0\1\2\3", b"just some words", b"\xff\xfe\x00"])
def test_what_cannot_be_read_is_one_clear_error(data):
    with pytest.raises(ReadError):
        bring_in(data, "x")
