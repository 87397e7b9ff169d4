"""From timed note elements to one line of notes: voices picked or merged, ties joined, chords
put in order, strings and frets held against the tuning.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from linewright.errors import ChoiceNeeded, MusicError, OptionError
from linewright.formats.musicxml.facts import PartFacts, RawNote
from linewright.formats.musicxml.timing import Timing
from linewright.score import Instrument, Mark, Note
from linewright.theory import Interval

__all__ = ["one_line", "placed"]


def one_line(facts: PartFacts, timed: Timing, voice: str | None, remarks: list[str]) -> list[Note]:
    """The notes of a part, or of one voice of it.

    Raises ChoiceNeeded when voices sound over each other and none is picked.
    """
    streams = _merge_tab_staff(facts, timed)
    return _in_order(_choose_voice(streams, voice, remarks), remarks)


# -- voices ------------------------------------------------------------------------------
@dataclass(frozen=True)
class _Event:
    onset: Fraction
    duration: Fraction
    raw: RawNote

    @property
    def end(self) -> Fraction:
        return self.onset + self.duration


_Streams = dict[tuple[str, str], list[_Event]]


def _merge_tab_staff(facts: PartFacts, timed: Timing) -> _Streams:
    """Events by (staff, voice); a tablature staff that repeats another gives it its places."""
    streams: _Streams = defaultdict(list)
    for onset, duration, number in timed.notes:
        raw = facts.notes[number]
        if duration > 0:
            streams[raw.staff, raw.voice].append(_Event(onset, duration, raw))
    by_staff: dict[str, list[_Event]] = defaultdict(list)
    for (staff, _voice), events in streams.items():
        by_staff[staff].extend(events)
    for tab in facts.tab_staves & set(by_staff):
        for staff in sorted(set(by_staff) - facts.tab_staves):
            if _sounds(by_staff[tab]) != _sounds(by_staff[staff]):
                continue
            twins = defaultdict(list)
            for event in by_staff[tab]:
                twins[event.onset, event.raw.pitch.midi].append(event.raw.played)
            for event in by_staff[staff]:
                twin = twins[event.onset, event.raw.pitch.midi].pop()
                own = event.raw.played
                own.marks |= twin.marks
                own.starts |= twin.starts
                if own.string is None:
                    own.string, own.fret = twin.string, twin.fret
            for key in [key for key in streams if key[0] == tab]:
                del streams[key]
            break
    return streams


def _sounds(events: Sequence[_Event]) -> list[tuple[Fraction, int]]:
    return sorted((event.onset, event.raw.pitch.midi) for event in events)


def _choose_voice(streams: _Streams, wanted: str | None, remarks: list[str]) -> list[Note]:
    staves = {staff for staff, _ in streams}
    labels = {
        (f"staff {staff} voice {voice}" if len(staves) > 1 else voice): (staff, voice)
        for staff, voice in sorted(streams)
    }
    if wanted is not None:
        word = " ".join(wanted.lower().replace(",", " ").split()).removeprefix("voice ")
        matching = [key for label, key in labels.items() if word == label.lower()] or [
            key for key in streams if word == key[1].lower()
        ]
        if len(matching) != 1:
            raise OptionError(
                f"the part has no one voice {wanted!r:.60}",
                accepted=f"Its voices are {', '.join(labels)}",
            )
        return _tied(streams[matching[0]])
    together = _tied([event for events in streams.values() for event in events])
    if len(streams) > 1:
        if not _is_one_line(together):
            raise ChoiceNeeded(
                f"the part has {len(streams)} voices that sound over each other",
                kind="voice",
                options=tuple(labels),
                accepted=f"Pick one: {', '.join(labels)}",
            )
        remarks.append(f"{len(streams)} voices that never overlap were read as one line")
    return together


def _is_one_line(notes: Sequence[Note]) -> bool:
    return all(
        note.duration == before.duration if note.onset == before.onset else note.onset >= before.end
        for before, note in pairwise(notes)
    )


# -- notes -------------------------------------------------------------------------------
def _tied(events: Sequence[_Event]) -> list[Note]:
    """Notes with their ties merged, in order of onset, joining marks set."""
    notes: list[Note] = []
    open_ties: dict[int, int] = {}  # written pitch -> note
    leading: set[str] = set()  # joining marks that start on the notes before
    groups: dict[Fraction, list[_Event]] = defaultdict(list)
    for event in events:
        groups[event.onset].append(event)
    for onset in sorted(groups):
        group = sorted(groups[onset], key=lambda e: -e.raw.pitch.midi)
        struck: list[int] = []
        for event in group:
            held = open_ties.pop(event.raw.written, None) if event.raw.tie_in else None
            if held is not None and notes[held].end == onset:
                notes[held] = _prolonged(notes[held], event)
            else:
                held = len(notes)
                struck.append(held)
                notes.append(_note(event))
            if event.raw.tie_out:
                open_ties[event.raw.written] = held
        if struck:
            reached = {mark.name for index in struck for mark in notes[index].marks}
            missing = {Mark(name) for name in leading - reached}
            first = notes[struck[0]]
            notes[struck[0]] = replace(first, marks=tuple(sorted({*first.marks, *missing})))
            leading = set()
        leading |= {name for event in group for name in event.raw.played.starts}
    return notes


def _note(event: _Event) -> Note:
    raw, played = event.raw, event.raw.played
    marks = tuple(sorted(played.marks))
    return Note(
        event.onset, event.duration, raw.pitch, played.string, played.fret, marks, raw.grace
    )


def _prolonged(note: Note, event: _Event) -> Note:
    """A note held on by a tie, with what is marked on its continuation (a late bend, vibrato)."""
    added = {mark for mark in event.raw.played.marks if not mark.kind.joins}
    if note.bend:
        added = {mark for mark in added if mark.name != "bend"}
    return replace(
        note,
        duration=event.end - note.onset,
        pitch=event.raw.pitch if event.raw.played.bend and not note.bend else note.pitch,
        marks=tuple(sorted({*note.marks, *added})),
    )


def _in_order(notes: list[Note], remarks: list[str]) -> list[Note]:
    """Groups struck together from high to low with one duration, each over before the next."""
    groups: dict[Fraction, dict[int, Note]] = defaultdict(dict)
    graces: dict[Fraction, list[Note]] = defaultdict(list)
    for note in notes:
        groups[note.onset].setdefault(note.midi, note)
        if note.grace:
            graces[note.onset].append(note)
    if sum(map(len, groups.values())) < len(notes):
        remarks.append("a note written twice at one moment was read once")
    done: list[Note] = []
    cut = False
    onsets = sorted(groups)
    for onset, following in zip(onsets, [*onsets[1:], None], strict=False):
        group = sorted(groups[onset].values(), key=lambda n: -n.midi)
        ends = {note.end for note in group}
        end = min(ends)
        if following is not None and end > following:
            end = following
        cut |= ends != {end}
        grace = tuple(g for note in graces[onset] for g in note.grace)
        strings: set[int] = set()
        for number, note in enumerate(group):
            clash = note.string in strings
            strings |= {note.string} if note.string is not None else set()
            done.append(
                replace(
                    note,
                    duration=end - onset,
                    grace=grace if number == 0 else (),
                    string=None if clash else note.string,
                    fret=None if clash else note.fret,
                )
            )
    if cut:
        remarks.append("notes held under others were cut where the others start or stop")
    return done


def placed(notes: list[Note], instrument: Instrument | None, remarks: list[str]) -> list[Note]:
    """Check strings and frets against the tuning; an octave between them is the notation's."""
    if instrument is None:
        if any(note.string is not None for note in notes):
            remarks.append("strings and frets are given without a tuning")
        return notes
    gaps: set[int | None] = set()
    for note in notes:
        if note.string is None or note.fret is None or note.has("harmonic"):
            continue
        try:
            place = instrument.midi_at(note.string, note.fret)
        except MusicError:
            gaps.add(None)
            continue
        gaps.add(round(place + note.bend) - note.midi)
    if gaps in ({12}, {-12}):
        gap = gaps.pop() or 0
        octave = Interval(7 if gap > 0 else -7, gap)
        remarks.append("the pitches lie an octave off the strings and frets, which were believed")
        return [replace(n, pitch=n.pitch.transpose(octave)) for n in notes]
    if gaps - {0}:
        remarks.append("strings and frets that do not give the written pitch were left out")
        return [_without_wrong_place(note, instrument) for note in notes]
    return notes


def _without_wrong_place(note: Note, instrument: Instrument) -> Note:
    if note.string is None or note.fret is None:
        return note
    try:
        right = round(instrument.midi_at(note.string, note.fret) + note.bend) == note.midi
    except MusicError:
        right = False
    else:
        right = right or note.has("harmonic")
    return note if right else replace(note, string=None, fret=None)
