"""Keeping licks: put in, change, delete, undo."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from linewright.errors import AlreadyKept, InputError, OptionError, StoreError, WriteError
from linewright.formats import write_bytes
from linewright.score import Lick
from linewright.services.bring import BroughtIn, bring_in, made_of
from linewright.services.clock import now as clock
from linewright.store import Dash, Entry, Imported, Kept, Library, Query, facts_of

__all__ = [
    "About",
    "Dash",
    "Entry",
    "Imported",
    "Kept",
    "Library",
    "Query",
    "change",
    "default_library",
    "delete",
    "editable_text",
    "keep",
    "keep_all",
    "parse_tags",
    "restore",
    "sort_out",
    "twin",
    "undo",
]

_LONGEST = 200
_MOST_TAGS = 40


def default_library() -> Path:
    """Where the library lies when nobody says: in the user's own data folder.

    ``LINEWRIGHT_LIBRARY`` names another file.
    """
    named = os.environ.get("LINEWRIGHT_LIBRARY")
    if named:
        return Path(named).expanduser()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    folder = base / "linewright"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"the folder {folder} cannot be made: {error.strerror}",
            accepted="Name a library file in a folder you may write to",
        ) from error
    return folder / "library.db"


@dataclass(frozen=True)
class About:
    """What is known about a lick besides its notes; a field left None stays as it is.

    An empty ``style``, ``source`` or ``tonic`` clears it; ``tonic`` is the tonic to read the
    lick against, whatever its key and notes say.
    """

    title: str | None = None
    style: str | None = None
    source: str | None = None
    tags: tuple[str, ...] | None = None
    tonic: str | None = None


def parse_tags(text: str) -> tuple[str, ...]:
    """Tags typed with commas between them, each once.

    >>> parse_tags("slow, bend,, slow ")
    ('slow', 'bend')
    """
    return tuple(dict.fromkeys(part.strip() for part in text.split(",") if part.strip()))


def keep(
    library: Library,
    brought: BroughtIn,
    about: About = About(),
    *,
    again: bool = True,
    now: datetime | None = None,
) -> Kept:
    """Put a lick that was brought in into the library.

    Raises AlreadyKept when it is there already and is not to be kept ``again``.
    """
    moment = now or clock()
    lick = _described(brought.lick, about)
    if not again and (number := twin(library, lick)) is not None:
        raise AlreadyKept(number, lick.title)
    return library.add(lick, facts_of(brought.analysis), now=moment, given_tonic=brought.tonic)


def keep_all(
    library: Library,
    tunes: Iterable[BroughtIn],
    about: About = About(),
    *,
    now: datetime | None = None,
) -> tuple[int, ...]:
    """Put several into the library, all or none; returns their numbers."""
    moment = now or clock()
    with library.writing() as writer:
        return tuple(
            writer.add(
                _described(tune.lick, about),
                facts_of(tune.analysis),
                now=moment,
                given_tonic=tune.tonic,
            ).id
            for tune in tunes
        )


def sort_out(
    library: Library, tunes: Iterable[BroughtIn], about: About = About()
) -> tuple[tuple[BroughtIn, ...], tuple[tuple[int, BroughtIn], ...]]:
    """The tunes that are new to the library, and those that are kept already, by the number of
    the kept one.
    """
    new: list[BroughtIn] = []
    there: list[tuple[int, BroughtIn]] = []
    for tune in tunes:
        number = twin(library, _described(tune.lick, about))
        if number is None:
            new.append(tune)
        else:
            there.append((number, tune))
    return tuple(new), tuple(there)


def twin(library: Library, lick: Lick) -> int | None:
    """The number of a kept lick with the same title, notes, bars and chords, or None."""
    for entry in library.search(Query(text=lick.title[:200])).entries:
        other = library.get(entry.id).lick
        if (other.title, other.notes, other.bars, other.chords) == (
            lick.title, lick.notes, lick.bars, lick.chords,
        ):  # fmt: skip
            return entry.id
    return None


def change(
    library: Library,
    lick_id: int,
    about: About = About(),
    *,
    text: str | None = None,
    now: datetime | None = None,
) -> Kept:
    """Change a lick in one step that undo takes back: its notes, what is known about it, or both.

    Parameters
    ----------
    about : About
        Title, style, source, tags, the tonic it is read against.
    text : str, optional
        Notes and rhythm as an edited text tab or ABC. Header lines that name title, style or
        source are taken too; tags stay.

    Returns
    -------
    Kept
        The lick as it is now; unchanged, and with nothing more to undo, when nothing differs.
    """
    kept = library.get(lick_id)
    old = kept.lick
    tonic = kept.given_tonic if about.tonic is None else about.tonic.strip() or None
    edited = old if text is None else _edited(old, bring_in(text.encode(), tonic=tonic).lick)
    lick = _described(edited, about)
    if lick == old and tonic == kept.given_tonic:
        return kept
    analysis = made_of(lick, tonic)
    return library.replace(
        lick_id,
        lick,
        facts_of(analysis),
        now=now or clock(),
        what=_what(old, lick, changed_tonic=tonic != kept.given_tonic),
        given_tonic=analysis.tonic.name if tonic else None,
    )


def _edited(old: Lick, new: Lick) -> Lick:
    """New notes with what the text did not say about them."""
    return new.with_(
        title=new.title if new.title != "Untitled" else old.title,
        style=new.style or old.style,
        source=new.source or old.source,
        tags=new.tags or old.tags,
    )


def editable_text(lick: Lick) -> tuple[str, str]:
    """The lick as text to be edited, and the name of the format: a text tab with its counting
    row, or ABC for what no tab can say.
    """
    refusal: WriteError | None = None
    for name in ("tab", "abc"):
        try:
            return write_bytes(lick, name).decode(), name
        except WriteError as error:
            refusal = error
    raise WriteError(
        "this lick cannot be written as text", accepted=str(refusal) if refusal else None
    )


def delete(library: Library, lick_id: int, *, now: datetime | None = None) -> Kept:
    """Take a lick out of the library, so that it can be brought back."""
    return library.delete(lick_id, now=now or clock())


def restore(library: Library, lick_id: int) -> Kept:
    """Bring a deleted lick back."""
    return library.restore(lick_id)


def undo(library: Library, lick_id: int, *, now: datetime | None = None) -> tuple[Kept, str]:
    """Take the last change of a lick back; returns the lick and what was undone."""
    return library.undo(lick_id, now=now or clock())


def _described(lick: Lick, about: About) -> Lick:
    changes: dict[str, object] = {}
    if about.title is not None:
        title = " ".join(about.title.split())
        if not title:
            raise OptionError("a lick needs a title", accepted="Write a few words")
        changes["title"] = _short("title", title)
    for name in ("style", "source"):
        value = getattr(about, name)
        if value is not None:
            changes[name] = _short(name, " ".join(value.split())) or None
    if about.tags is not None:
        if len(about.tags) > _MOST_TAGS:
            raise OptionError(f"{len(about.tags)} tags", accepted=f"Use up to {_MOST_TAGS}")
        changes["tags"] = about.tags
    return lick.with_(**changes) if changes else lick


def _short(name: str, text: str) -> str:
    if len(text) > _LONGEST:
        raise OptionError(
            f"the {name} has {len(text)} characters", accepted=f"Use up to {_LONGEST}"
        )
    if any(ord(char) < 32 or ord(char) == 127 for char in text):
        raise InputError(f"the {name} holds a control character", accepted="Write plain text")
    return text


def _what(old: Lick, new: Lick, *, changed_tonic: bool) -> str:
    """A change in a few words, the weightiest part of it."""
    if [note.midi for note in old.notes] != [note.midi for note in new.notes]:
        return "changed the notes"
    if _times(old) != _times(new):
        return "changed the rhythm"
    if old.notes != new.notes:
        return "changed strings, frets or marks"
    if old.title != new.title:
        return f"renamed from {old.title}"
    if old.tags != new.tags:
        return "changed the tags"
    return "changed the tonic" if changed_tonic else "changed the details"


def _times(lick: Lick) -> list[object]:
    return [(note.onset, note.duration) for note in lick.notes]
