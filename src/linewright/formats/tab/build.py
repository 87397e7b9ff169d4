"""From timed attacks to the notes and chords of a lick."""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections import deque
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from linewright.errors import ReadError
from linewright.formats.tab.layout import Row, chord_words
from linewright.formats.tab.rhythm import BarDraft, Timing
from linewright.formats.tab.signs import Sign
from linewright.fretboard import PARTIALS
from linewright.score import Bar, ChordSpan, Grace, Instrument, Mark, Note, bent
from linewright.theory import ChordSymbol, Key, Pitch, spell_midi
from linewright.theory.chords import NO_CHORD

__all__ = ["build_chords", "build_notes"]

_Event = tuple[Fraction, list[Sign], Key | None, list[Sign]]  # onset, signs, key, graces


def build_notes(
    drafts: Sequence[BarDraft],
    bars: Sequence[Bar],
    timings: Sequence[Timing],
    instrument: Instrument,
    remarks: list[str],
) -> tuple[Note, ...]:
    """The notes, each lasting until the next one or a rest."""
    events, stops = _events(drafts, bars, timings)
    _settle_slides(events)
    end = bars[-1].end
    onsets = sorted({event[0] for event in events} | stops | {end})
    following = dict(itertools.pairwise(onsets))
    notes: list[Note] = []
    for onset, signs, key, graces in events:
        duration = following[onset] - onset
        made = [
            Note(onset, duration, _pitch(sign, instrument, key), sign.string, sign.fret,
                 tuple(sign.marks))
            for sign in signs
        ]  # fmt: skip
        made.sort(key=lambda note: -note.midi)
        for sign in graces:
            _add_grace(made, sign, instrument, key)
        notes.extend(made)
    if not notes:
        remarks.append("There is no fret in this tab: every bar is a rest.")
    return tuple(notes)


def _events(
    drafts: Sequence[BarDraft], bars: Sequence[Bar], timings: Sequence[Timing]
) -> tuple[list[_Event], set[Fraction]]:
    """Attacks in order of time, and the moments at which a note before must stop."""
    events: list[_Event] = []
    stops: set[Fraction] = set()
    graces: list[Sign] = []
    for draft, bar, timing in zip(drafts, bars, timings, strict=True):
        stops |= {bar.onset + rest for rest in timing.rests}
        waiting = deque(draft.graces)
        for attack, offset in zip(draft.attacks, timing.attacks, strict=True):
            if attack.is_tie:
                continue
            while waiting and waiting[0][0] < attack.column:
                graces.append(waiting.popleft()[1])
            signs = [sign for sign in attack.signs if sign.fret is not None]
            events.append((bar.onset + offset, signs, bar.key, graces))
            graces = []
        graces.extend(sign for _, sign in waiting)
    if graces:
        raise ReadError(
            "a grace note with no note after it", line=graces[0].line, column=graces[0].column + 1
        )
    return events, stops


def _settle_slides(events: Sequence[_Event]) -> None:
    """A slide whose slash touches only the note before it arrives if the very next attack is on
    its string; else it trails off.
    """
    before: list[Sign] = []
    for _, signs, _, graces in events:
        for sign in (*graces, *signs):
            if sign.slid_from is None:
                continue
            if any(sign.slid_from is other for other in (*before, *graces)):
                sign.marks.insert(0, Mark("slide"))
            else:
                sign.slid_from.marks.append(Mark("slide out", Fraction(sign.slope)))
        before = signs


def _pitch(sign: Sign, instrument: Instrument, key: Key | None) -> Pitch:
    fret = sign.fret or 0
    if sign.has("harmonic"):
        midi = instrument.open_midi(sign.string) + PARTIALS[fret]
    else:
        bend = sum((mark.semitones for mark in sign.marks if mark.name == "bend"), Fraction(0))
        midi = bent(instrument.midi_at(sign.string, fret), bend)
    # Neutral spelling is centred two fifths above the tonic of a major key (D for C).
    return spell_midi(midi, key.fifths + 2 if key is not None else 2)


def _add_grace(made: list[Note], sign: Sign, instrument: Instrument, key: Key | None) -> None:
    extra = [mark.name for mark in sign.marks if not mark.kind.joins]
    if extra:
        raise ReadError(
            f"a grace note with a mark ({extra[0]})", line=sign.line, column=sign.column + 1,
            accepted="A grace note carries none but h, p and slides",
        )  # fmt: skip
    grace = Grace(_pitch(sign, instrument, key), sign.string, sign.fret)
    index = next((i for i, note in enumerate(made) if note.string == sign.string), 0)
    made[index] = replace(made[index], grace=(*made[index].grace, grace))


# -- chords ------------------------------------------------------------------------------
def build_chords(
    drafts: Sequence[BarDraft],
    bars: Sequence[Bar],
    timings: Sequence[Timing],
    rows: Sequence[Row | None],
) -> tuple[ChordSpan, ...]:
    """Chord spans: each from the moment under its symbol to the next symbol."""
    found: list[tuple[Fraction, ChordSymbol | None]] = []
    by_system: dict[int, list[int]] = {}
    for index, draft in enumerate(drafts):
        by_system.setdefault(draft.system, []).append(index)
    for system, row in enumerate(rows):
        if row is None:
            continue
        members = by_system.get(system)
        if not members:
            continue
        index = members[0]
        for column, word in chord_words(row) or []:
            while index < members[-1] and column >= drafts[index].end:
                index += 1
            onset = bars[index].onset + _moment(drafts[index], bars[index], timings[index], column)
            if found and onset <= found[-1][0]:
                raise ReadError(
                    f"the chord {word} falls on the same beat as the one before it",
                    line=row.line,
                    column=column + 1,
                    accepted="Put each chord above the note or count it begins on",
                )
            symbol = None if word in NO_CHORD else ChordSymbol.parse(word)
            found.append((onset, symbol))
    ends = [*(onset for onset, _ in found), bars[-1].end][1:]
    return tuple(
        ChordSpan(onset, end - onset, symbol)
        for (onset, symbol), end in zip(found, ends, strict=True)
    )


def _moment(draft: BarDraft, bar: Bar, timing: Timing, column: int) -> Fraction:
    """The offset a chord symbol's column means: the note or count under it, else the nearest
    beat by column.
    """
    place = column - draft.start
    columns = [anchor for anchor, _ in timing.anchors]
    index = bisect_right(columns, place)
    if index and columns[index - 1] == place:
        return timing.anchors[index - 1][1]
    first = timing.anchors[0] if timing.anchors else (0, Fraction(0))
    if place <= max(first[0], 1):
        return Fraction(0) if place < first[0] or not timing.anchors else first[1]
    points = [*timing.anchors, (draft.end - draft.start, draft.length)]
    before = points[index - 1] if index else (0, Fraction(0))
    after = points[min(index, len(points) - 1)]
    share = Fraction(place - before[0], max(after[0] - before[0], 1))
    raw = before[1] + (after[1] - before[1]) * min(share, Fraction(1))
    beats = [at - draft.shift for at in draft.meter.beat_onsets]
    inside = [at for at in beats if 0 <= at < bar.duration] or [Fraction(0)]
    full = draft.shift
    return min(inside, key=lambda at: (abs(at - raw), -draft.meter.weight(at + full)))
