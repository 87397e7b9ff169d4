"""What the JSON API takes and gives, checked and documented by pydantic."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from linewright.services.bring import BroughtIn, bring_text
from linewright.services.removing import Removed
from linewright.services.shelf import About, Entry, Imported, Kept
from linewright.services.side_by_side import Comparison
from linewright.web.guard import MAX_UPLOAD_BYTES

__all__ = [
    "Brought",
    "Change",
    "ComparisonOut",
    "EntryOut",
    "FailureOut",
    "ImportedOut",
    "KeptOut",
    "ListOut",
    "Neck",
    "NewLick",
    "PointOut",
    "Preview",
    "Problem",
    "RemovableOut",
    "Strict",
    "Text",
]

Short = Annotated[str, Field(max_length=200)]
Source = Annotated[
    str,
    Field(
        max_length=MAX_UPLOAD_BYTES,
        description="A text tab or ABC (or Linewright JSON), as it would stand in a file",
    ),
]
Tonic = Annotated[
    str | None, Field(max_length=8, description="Read it against this tonic, as in `G` or `Bb`")
]
Octave = Annotated[
    Literal["written", "guitar"],
    Field(
        description="How ABC sounds: as written, or an octave lower, as guitar music in the"
        " treble clef does; a text tab says itself"
    ),
]
Neck = Annotated[
    str | None,
    Field(
        max_length=80,
        description="Instrument it is for, as in `mandolin`: ABC is laid out for it (for a guitar"
        " without one), a text tab keeps its strings and frets",
    ),
]
Tags = Annotated[list[Annotated[str, Field(max_length=60)]], Field(max_length=40)]


class Strict(BaseModel):
    """An unknown field is a mistake, not something to drop."""

    model_config = ConfigDict(extra="forbid")


class Text(Strict):
    """A lick as text."""

    text: Source
    tonic: Tonic = None
    octave: Octave = "written"
    instrument: Neck = None

    def brought(self) -> BroughtIn:
        """The lick of the text, read as asked."""
        return bring_text(self.text, self.tonic, self.octave, self.instrument)


class NewLick(Text):
    """A lick as text, and what to keep it under; fields left out come from the text."""

    title: Short | None = None
    style: Short | None = None
    source: Short | None = None
    tags: Tags | None = None
    again: Annotated[bool, Field(description="Keep it although the same lick is kept already")] = (
        False
    )

    def about(self) -> About:
        """The fields besides the notes."""
        tags = None if self.tags is None else tuple(self.tags)
        return About(self.title, self.style, self.source, tags)


class Change(Strict):
    """What to change; fields left out stay. An empty style, source or tonic clears it."""

    text: Source | None = None
    title: Short | None = None
    style: Short | None = None
    source: Short | None = None
    tags: Tags | None = None
    tonic: Annotated[str | None, Field(max_length=8)] = None

    def about(self) -> About:
        """The fields besides the notes."""
        tags = None if self.tags is None else tuple(self.tags)
        return About(self.title, self.style, self.source, tags, self.tonic)


class EntryOut(BaseModel):
    """A lick without its notes."""

    id: int
    uuid: str
    title: str
    style: str | None
    instrument: str | None
    tuning: str | None
    meter: str
    source: str | None
    tags: list[str]
    tonic: str
    frame: Annotated[str, Field(description="The collection's name, or `none fits`")]
    frame_label: Annotated[str, Field(description="With tonic and colour, as players say it")]
    outside: Annotated[list[str], Field(description="Degrees of the outside notes")]
    created: datetime
    updated: datetime

    @classmethod
    def of(cls, entry: Entry) -> EntryOut:
        """From the library's own value."""
        facts = entry.facts
        return cls(
            id=entry.id,
            uuid=entry.uuid,
            title=entry.title,
            style=entry.style,
            instrument=entry.instrument,
            tuning=entry.tuning,
            meter=entry.meter,
            source=entry.source,
            tags=list(entry.tags),
            tonic=facts.tonic,
            frame=facts.frame,
            frame_label=facts.frame_label,
            outside=list(facts.outside),
            created=entry.created,
            updated=entry.updated,
        )


class KeptOut(EntryOut):
    """A lick with its notes in Linewright's own JSON."""

    given_tonic: str | None
    deleted: datetime | None
    changes: Annotated[int, Field(description="How many changes can be undone")]
    remarks: list[str]
    lick: dict[str, Any]

    @classmethod
    def whole(cls, kept: Kept, lick: dict[str, Any]) -> KeptOut:
        """From the library's own value and the lick as JSON."""
        return cls(
            **EntryOut.of(kept.entry).model_dump(),
            given_tonic=kept.given_tonic,
            deleted=kept.deleted,
            changes=kept.changes,
            remarks=list(kept.lick.remarks),
            lick=lick,
        )


class ListOut(BaseModel):
    """A page of the list; ``facets`` gives the values of each filter with their counts."""

    total: int
    licks: list[EntryOut]
    facets: dict[str, list[tuple[str, int]]]


class PointOut(BaseModel):
    """One respect in which two licks are compared."""

    topic: Annotated[
        str,
        Field(
            description="`frame`, `outside`, `figures`, `motion`, `rhythm`, `chords` or `instrument`"
        ),
    ]
    sentence: str


class ComparisonOut(BaseModel):
    """Two licks side by side; equal titles are told apart."""

    first: Annotated[str, Field(description="Title of the first lick")]
    second: Annotated[str, Field(description="Title of the second lick")]
    shared: Annotated[list[PointOut], Field(description="What they have in common")]
    different: Annotated[list[PointOut], Field(description="Where they differ")]

    @classmethod
    def of(cls, found: Comparison) -> ComparisonOut:
        """From the analysis's own value."""
        return cls.model_validate(found.to_dict())


class Preview(BaseModel):
    """A lick engraved and read, kept nowhere. Texts are as printed, with ♭ and ♯."""

    title: str
    frame: Annotated[str, Field(description="The frame in a player's words")]
    verdict: Annotated[str, Field(description="A sentence: the frame and why")]
    remarks: Annotated[list[str], Field(description="Sentences on what had to be decided")]
    svg: Annotated[str, Field(description="Staff over tab, 760 pixels wide")]
    svg_narrow: Annotated[str, Field(description="The same for a phone")]
    neck: str | None
    problem: Annotated[str | None, Field(description="Why it could not be engraved")]


class FailureOut(BaseModel):
    """A tune that was not brought in."""

    number: int
    title: str
    error: str


class Brought(BaseModel):
    """What came of a file."""

    kept: list[int]
    already: Annotated[
        list[int], Field(description="Numbers of licks that are the same as tunes left out")
    ]
    failures: list[FailureOut]


class ImportedOut(BaseModel):
    """Numbers of the licks an import added, brought up to date, and found here already; and of
    the practice plans that came in or have something new; and how many takes came in, how many of
    them without their recordings.
    """

    added: list[int]
    updated: list[int]
    unchanged: list[int]
    plans: list[int]
    takes: int = 0
    silent: int = 0

    @classmethod
    def of(cls, done: Imported) -> ImportedOut:
        """From the service's own value."""
        return cls(
            added=list(done.added),
            updated=list(done.updated),
            unchanged=list(done.unchanged),
            plans=list(done.plans),
            takes=done.takes,
            silent=done.silent,
        )


class RemovableOut(BaseModel):
    """What is removed for good, or could be."""

    before: Annotated[datetime, Field(description="All of it was deleted before then")]
    licks: int
    students: int
    plans: int
    takes: int
    recordings: int
    bytes: Annotated[int, Field(description="Size of the recordings")]

    @classmethod
    def of(cls, removed: Removed, before: datetime) -> RemovableOut:
        """From the service's own value."""
        return cls(before=before, **asdict(removed))


class ProblemDetail(BaseModel):
    """What was wrong, where, and what is accepted."""

    message: str
    file: Annotated[str | None, Field(description="The uploaded file it was met in")]
    where: str | None
    accepted: str | None
    line: int | None
    column: int | None
    options: Annotated[list[str] | None, Field(description="What there is to pick from")]
    kind: Annotated[
        str | None,
        Field(
            description="What has to be picked: `tune`, `part`, `voice` or `track`; `kept` when"
            " `options` holds the number of the same lick in the library"
        ),
    ]


class Problem(BaseModel):
    """Every error has this shape."""

    error: ProblemDetail
