"""From the parse to figures: note indexes, shifts, tight and loose forms."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from typing import cast

from linewright.analysis.figures.hand import hand_words
from linewright.analysis.figures.model import Figure, Kind, Loose, Tight, View
from linewright.analysis.figures.parse import Parsed, parse
from linewright.analysis.figures.prices import Copy
from linewright.analysis.figures.say import Said, loose_words, tight_words
from linewright.analysis.figures.views import Views, views_of
from linewright.score import Lick
from linewright.theory import ChordSymbol, Frame, degree_of, spell_midi

__all__ = ["find_figures"]


def find_figures(lick: Lick, frame: Frame | None) -> tuple[Figure, ...]:
    """The figures of a lick's melody: its cheapest explanation, in order of first note.

    Every note belongs to one figure or to none; () when nothing recurs that is worth naming.

    Parameters
    ----------
    lick : Lick
    frame : Frame or None
        What steps are counted in; letters of the staff when None.
    """
    views = views_of(lick, frame)
    arpeggio = frame is not None and frame.collection.is_arpeggio
    found = parse(views, arpeggio_frame=arpeggio)
    return tuple(_figure(lick, frame, views, leg) for parsed in found for leg in _legs(parsed))


def _legs(parsed: Parsed) -> list[Parsed]:
    """A run that turns as the runs it is made of, each turning note with the run it ends."""
    turns = parsed.detail.turns
    if not turns:
        return [parsed]
    only = parsed.spans[0]
    legs = []
    for k, (start, end) in enumerate(itertools.pairwise((only.start, *turns, only.end))):
        way = parsed.detail.way * (-1) ** k
        detail = replace(parsed.detail, length=end - start, way=way, turns=())
        saving = parsed.saving * (end - start) / (only.end - only.start)
        span = replace(only, start=start, end=end, detail=detail)
        legs.append(Parsed(parsed.kind, detail, (span,), saving))
    return legs


def _figure(lick: Lick, frame: Frame | None, views: Views, parsed: Parsed) -> Figure:
    detail = parsed.detail
    kind = cast(Kind, parsed.kind)
    spans = _spans(parsed)
    copies = _copies(parsed)
    first = spans[0][0]
    cell = spans[0][1] - first + 1
    row = views.row(detail.view)
    if detail.view == "steps" and kind == "chromatic run":
        row = [2 * h for h in views.semitones]
    unit: View = (
        "semitones"
        if detail.view == "semitones" or kind == "chromatic run"
        else ("letters" if detail.view == "letters" or not views.has_frame else "frame steps")
    )
    moves = tuple(
        _half(b - a)
        for a, b in zip(row[first : first + cell - 1], row[first + 1 : first + cell], strict=False)
    )
    shifts = tuple(_half(row[b] - row[a]) for (a, _), (b, _) in itertools.pairwise(spans))
    if kind in ("sequence", "repetition"):
        moved = [copy.moved for copy in copies]
        shifts = tuple(_half(b - a) for a, b in itertools.pairwise(moved))
    if kind == "sequence" and not any(shifts):
        kind = "repetition"  # moved in letters or semitones only to stand where it stood
    said = Said(
        kind=kind,
        unit=unit,
        notes=tuple(_name(lick, frame, k) for k in range(first, first + cell)),
        moves=moves,
        shifts=shifts,
        edits=tuple(copy.edits for copy in copies[1:]),
        rhythms=tuple(copy.same_rhythm for copy in copies[1:]),
        times=len(spans),
        apart=any(a[1] + 1 != b[0] for a, b in itertools.pairwise(spans)),
        restart=row[spans[1][0]] - row[spans[0][1]] if len(spans) > 1 else 0,
        way=detail.way,
        slot=detail.slot,
        chord=_chord(lick, detail.chord, first, cell),
        cut=_cut(kind, cell, spans),
    )
    changes, words = tight_words(said)
    tight = Tight(words, said.notes, moves, shifts, changes, hand_words(lick, spans, kind))
    index = lick.melody
    return Figure(
        kind=kind,
        cell=cell,
        shift=_shift(views, said, spans),
        exact=not any(said.edits) and all(said.rhythms),
        occurrences=tuple((index[a], index[b]) for a, b in spans),
        covers=sum(b - a + 1 for a, b in spans),
        view=unit,
        saving=round(parsed.saving, 3),
        tight=tight,
        loose=_loose(said),
    )


def _spans(parsed: Parsed) -> list[tuple[int, int]]:
    """First and last melody note of every occurrence."""
    detail = parsed.detail
    if parsed.kind.endswith(" run"):
        only = parsed.spans[0]
        return [(only.start, only.end - 1)]
    spans = []
    for span in parsed.spans:
        again = [copy.start for copy in span.detail.copies]
        if not again:  # an alternation, a pedal, a repeated note: cell after cell to the end
            again = list(range(span.start, span.end, detail.length))
        starts = sorted({span.start, *again})
        spans += [(s, min(s + detail.length, span.end) - 1) for s in starts]
    return spans


def _cut(kind: str, cell: int, spans: Sequence[tuple[int, int]]) -> int:
    """Notes of the last copy of a cell where it breaks off, else 0."""
    last = spans[-1][1] - spans[-1][0] + 1
    return last if kind in ("sequence", "repetition") and last < cell else 0


def _copies(parsed: Parsed) -> list[Copy]:
    """Every occurrence as a copy of the first one in the lick."""
    known = {copy.start: copy for span in parsed.spans for copy in span.detail.copies}
    starts = [start for start, _ in _spans(parsed)]
    return [known.get(start, Copy(start, 0)) for start in starts]


def _half(size: int) -> float:
    return size / 2


def _name(lick: Lick, frame: Frame | None, place: int) -> str:
    pitch = lick.notes[lick.melody[place]].pitch
    if frame is None:
        return pitch.pitch_class.name
    degree = frame.degree(pitch.pitch_class.number)
    return str(degree or degree_of(pitch.pitch_class, frame.tonic))


def _chord(lick: Lick, found: tuple[int, str] | None, first: int, cell: int) -> str | None:
    """The chord an arpeggio run spells: the one sounding when it holds all the notes."""
    if found is None:
        return None
    notes = [lick.notes[k] for k in lick.melody[first : first + cell]]
    sounding = lick.chord_at(notes[0].onset)
    if sounding and {note.pitch.pitch_class.number for note in notes} <= sounding.numbers:
        return str(sounding)
    number, quality = found
    spelled = (n.pitch.pitch_class for n in notes if n.pitch.pitch_class.number == number)
    root = next(spelled, spell_midi(60 + number).pitch_class)
    return str(ChordSymbol(root, quality))


def _shift(views: Views, said: Said, spans: Sequence[tuple[int, int]]) -> int | None:
    """Frame steps from each occurrence to the next, when always the same."""
    if said.kind == "repetition":
        return 0
    if said.kind != "sequence" or not views.has_frame:
        return None
    shifts = set(said.shifts)
    if said.unit != "frame steps":
        heights = [views.steps[start] for start, _ in spans]
        shifts = {_half(b - a) for a, b in itertools.pairwise(heights)}
    only = shifts.pop()
    return int(only) if not shifts and only == int(only) else None


def _loose(said: Said) -> Loose:
    contour, height = [0.0], 0.0
    for move in said.moves:
        height += move
        contour.append(height)
    cell, free = len(contour), tuple(sorted({k for edits in said.edits for k, _ in edits}))
    low, high = (min(said.shifts), max(said.shifts)) if said.shifts else (0.0, 0.0)
    if said.kind == "sequence":  # keeps its direction, may move by one step more
        low, high = low - (low < 0), high + (high > 0)
    run = said.kind.endswith(" run")
    return Loose(
        words=loose_words(said),
        contour=tuple(contour),
        tolerance=0 if run or said.kind in ("alternation", "pedal") else 1,
        shift=(int(low), int(high)) if said.kind in ("sequence", "repetition") else (0, 0),
        times=(1, 1) if run else (2, max(said.times + 1, 3)),
        length=(max(4, cell - 2), cell + 2) if run else (cell, cell),
        rhythm="kept" if all(said.rhythms) else "free",
        free_notes=free,
    )
