"""Keeping and changing licks."""

from datetime import UTC, datetime

import pytest

from linewright.errors import InputError, OptionError, ReadError
from linewright.services.bring import bring_in, bring_in_all
from linewright.services.shelf import (
    About,
    change,
    default_library,
    delete,
    editable_text,
    keep,
    keep_all,
    parse_tags,
    restore,
    undo,
)
from linewright.store import Query
from samples import BOOK, PORCH

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def test_what_is_kept_can_be_found_by_what_it_is_made_of(library):
    assert keep(library, bring_in(PORCH.encode()), now=NOON).entry.created == NOON
    assert library.search(Query(outside="b5", tonic="G", style="blues")).total == 1


def test_the_list_gets_a_sketch_of_the_lick(porch):
    dashes = porch.entry.facts.sketch
    assert [d.midi for d in dashes] == [note.midi for note in porch.lick.notes]
    assert [d.midi for d in dashes if d.outside] == [61]  # Db4, by hand
    assert dashes[0][:2] == (0.0, 0.5)


def test_details_given_at_keeping_take_the_place_of_the_files(library):
    brought = bring_in(PORCH.encode())
    kept = keep(library, brought, About("  Gate   step ", "country", "own", ("a", "b")))
    assert (kept.lick.title, kept.lick.style, kept.lick.source) == ("Gate step", "country", "own")
    assert kept.entry.tags == ("a", "b")


def test_many_are_kept_together_or_not_at_all(library):
    book = bring_in_all(BOOK.encode(), "book.abc")
    tunes = [brought for _, brought in book.tunes]
    assert len(keep_all(library, tunes, About(tags=("book",)))) == 2
    assert library.search(Query(tag="book")).total == 2
    with pytest.raises(OptionError):
        keep_all(library, tunes, About(tags=("ok", "x" * 90)))
    assert library.search(Query()).total == 2


def test_a_rhythm_is_corrected_and_the_correction_undone(library, porch):
    text, name = editable_text(porch.lick)
    assert name == "tab"
    assert bring_in(text.encode()).lick == porch.lick
    edited = text.replace("Tempo: 92", "Tempo: 80")
    assert edited != text
    assert change(library, porch.id, text=edited).lick.tempo.bpm == 80
    back, _ = undo(library, porch.id)
    assert back.lick == porch.lick


def test_changing_nothing_leaves_no_trace(library, porch):
    about = About(title="Porch step", tags=porch.lick.tags)
    assert change(library, porch.id, about) == porch
    text, _ = editable_text(porch.lick)
    assert change(library, porch.id, text=text).changes == 0


@pytest.mark.parametrize(
    ("about", "what"),
    [
        (About(title="New name"), "renamed from Porch step"),
        (About(tags=("one",)), "changed the tags"),
        (About(tonic="C"), "changed the tonic"),
        (About(source="class"), "changed the details"),
    ],
)
def test_every_change_can_be_undone_and_says_what_it_was(library, porch, about, what):
    after = change(library, porch.id, about)
    assert after != porch
    before, undone = undo(library, porch.id)
    assert undone == what
    assert before.lick == porch.lick
    assert before.entry.facts == porch.entry.facts
    assert before.given_tonic == porch.given_tonic


def test_a_tonic_insisted_on_changes_the_reading_and_can_be_cleared(library, porch):
    after = change(library, porch.id, About(tonic="c"))
    assert (after.given_tonic, after.entry.facts.tonic) == ("C", "C")
    cleared = change(library, porch.id, About(tonic=""))
    assert (cleared.given_tonic, cleared.entry.facts.tonic) == (None, "G")


def test_text_and_details_change_as_one_or_not_at_all(library, porch):
    text, _ = editable_text(porch.lick)
    with pytest.raises(OptionError, match="title"):
        change(library, porch.id, About(title=" "), text=text.replace("92", "80"))
    with pytest.raises(ReadError):
        change(library, porch.id, About(title="Half"), text="nothing to read")
    assert library.get(porch.id) == porch


def test_deleted_and_brought_back(library, porch):
    delete(library, porch.id)
    assert library.search(Query()).total == 0
    assert restore(library, porch.id) == porch


@pytest.mark.parametrize(
    ("about", "message"),
    [
        (About(title="x" * 201), "201 characters"),
        (About(style="x" * 201), "201 characters"),
        (About(title="a\x00b"), "control character"),
        (About(tags=tuple(map(str, range(41)))), "41 tags"),
    ],
)
def test_what_a_lick_cannot_be_called(library, porch, about, message):
    with pytest.raises(InputError, match=message):
        change(library, porch.id, about)


def test_tags_are_typed_with_commas():
    assert parse_tags(" slow, bend ,, slow") == ("slow", "bend")
    assert parse_tags("") == ()


def test_the_library_lies_where_the_user_says(monkeypatch, tmp_path):
    monkeypatch.setenv("LINEWRIGHT_LIBRARY", str(tmp_path / "mine.db"))
    assert default_library() == tmp_path / "mine.db"
    monkeypatch.delenv("LINEWRIGHT_LIBRARY")
    monkeypatch.setattr("sys.platform", "linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert default_library() == tmp_path / "data" / "linewright" / "library.db"
    assert (tmp_path / "data" / "linewright").is_dir()
