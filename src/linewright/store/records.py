"""The values that go in and come out of the library."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Final, NamedTuple

from linewright.analysis.model import Analysis
from linewright.errors import OptionError
from linewright.score import Lick

__all__ = [
    "FACETS",
    "SORTS",
    "Dash",
    "Entry",
    "Facts",
    "Kept",
    "Query",
    "SearchResult",
    "Version",
    "facts_of",
]

#: What the library can be narrowed by, in the order a page shows them.
FACETS: Final = ("style", "tag", "frame", "tonic", "outside", "instrument", "meter")
#: Ways to order the list.
SORTS: Final = ("newest", "oldest", "changed", "title", "frame")
#: What the frame filter calls a lick that no plain frame fits.
NO_FRAME: Final = "none fits"
#: Notes of a lick that its sketch shows.
_SKETCHED: Final = 64


class Dash(NamedTuple):
    """One note of a sketch: start and length in quarters, MIDI number, 1 when outside the frame."""

    start: float
    length: float
    midi: int
    outside: int


@dataclass(frozen=True)
class Facts:
    """What the analysis found, in the few words the library is searched by.

    Parameters
    ----------
    tonic : str
        As in ``G``.
    frame : str
        The collection's plain name, or ``none fits``.
    frame_label : str
        In a player's words with tonic and colour, as in ``G minor pentatonic + b5 (blues)``.
    outside : tuple of str
        Degrees of the outside notes, each once, in order of appearance.
    functions : tuple of str
        What the outside notes do, each once.
    sketch : tuple of Dash
        The lick's first notes, for a small picture of its shape in the list.
    """

    tonic: str
    frame: str = NO_FRAME
    frame_label: str = ""
    outside: tuple[str, ...] = ()
    functions: tuple[str, ...] = ()
    sketch: tuple[Dash, ...] = ()


def facts_of(analysis: Analysis) -> Facts:
    """The searchable facts of an analysis."""
    return Facts(
        tonic=analysis.tonic.name,
        frame=analysis.frame.collection.name if analysis.frame else NO_FRAME,
        frame_label=analysis.frame_name,
        outside=tuple(dict.fromkeys(str(note.degree) for note in analysis.outside_notes)),
        functions=tuple(dict.fromkeys(note.function for note in analysis.outside_notes)),
        sketch=tuple(
            Dash(
                round(float(note.onset), 3),
                round(float(note.duration), 3),
                note.midi,
                int(analysis.notes[index].is_outside),
            )
            for index, note in enumerate(analysis.lick.notes[:_SKETCHED])
        ),
    )


@dataclass(frozen=True)
class Entry:
    """A line of the library list: a lick without its notes."""

    id: int
    uuid: str
    title: str
    style: str | None
    instrument: str | None
    tuning: str | None
    meter: str
    source: str | None
    tags: tuple[str, ...]
    facts: Facts
    created: datetime
    updated: datetime


@dataclass(frozen=True)
class Kept:
    """A lick in the library with all that is known about it.

    ``given_tonic`` is the tonic the owner insists on, None when the analysis finds it.
    ``deleted`` is when it was deleted (it can still be brought back), None when it was not.
    """

    entry: Entry
    lick: Lick
    given_tonic: str | None = None
    deleted: datetime | None = None
    changes: int = 0

    @property
    def id(self) -> int:
        """Number in the library."""
        return self.entry.id


@dataclass(frozen=True)
class Version:
    """An earlier state of a lick: what was changed after it, and when."""

    at: datetime
    what: str


@dataclass(frozen=True)
class Query:
    """What to look for; every field narrows, empty fields do not.

    ``text`` is split into words that must all occur, in any order, in title, style, source,
    tags, instrument, chords, key, frame or outside notes.
    """

    text: str = ""
    style: str | None = None
    tag: str | None = None
    frame: str | None = None
    tonic: str | None = None
    outside: str | None = None
    instrument: str | None = None
    meter: str | None = None
    sort: str = "newest"
    limit: int | None = None
    offset: int = 0

    def __post_init__(self) -> None:
        if self.sort not in SORTS:
            raise OptionError(
                f"{self.sort!r} is not a way to sort", accepted=f"Use one of {', '.join(SORTS)}"
            )
        if not 0 <= self.offset < 2**31 or not (self.limit is None or 1 <= self.limit < 2**31):
            raise OptionError(
                f"no page of the list holds {self.limit} licks from {self.offset:,} on",
                accepted="A page starts at 0 or later and holds at least one lick",
            )
        if len(self.text) > 500:
            raise OptionError("the search text is too long", accepted="Use up to 500 characters")

    def chosen(self, facet: str) -> str | None:
        """The value a facet is narrowed to, or None."""
        value = getattr(self, facet)
        return value or None

    @property
    def is_narrowed(self) -> bool:
        """Whether anything is asked for at all."""
        return bool(self.text.strip()) or any(self.chosen(facet) for facet in FACETS)


@dataclass(frozen=True)
class SearchResult:
    """Entries found (one page of ``total``) and, for each facet, its values with counts.

    The counts of a facet are taken with all other filters on and its own off, so that a page
    can offer to change one filter without leaving the rest.
    """

    entries: tuple[Entry, ...]
    total: int
    facets: dict[str, tuple[tuple[str, int], ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Removed:
    """What is removed for good, or would be; ``bytes`` is the size of the recordings."""

    licks: int
    students: int
    plans: int
    takes: int
    recordings: int
    bytes: int

    @property
    def anything(self) -> bool:
        """Whether there is anything in it."""
        return any((self.licks, self.students, self.plans, self.takes))
