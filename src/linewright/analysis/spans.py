"""One frame throughout, or frames that change with the harmony.

The same bits that choose the frame of the whole choose here: the lick is cut at chord changes where
naming another frame for the part costs less than keeping the one before (a segmentation by dynamic
programming, exact under its stated cost). A part's frame stands on home or on the root of one of
the part's chords. Arpeggios inside a scale stay inside it unless they explain more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Final

from linewright.analysis.cadence import CHORD_SCALES
from linewright.analysis.frame import (
    Evidence,
    bit_set,
    candidates,
    confusions,
    evidence_of,
    turned,
)
from linewright.analysis.prose import frame_words
from linewright.analysis.ranking import Ranking
from linewright.analysis.weights import note_weights, treatments
from linewright.score import Lick
from linewright.theory import COLLECTIONS, ChordSymbol, Frame, PitchClass

__all__ = ["Span", "find_spans", "say_spans"]

#: Bits to say that the frame changes here, and more when the new one leaves home. Changes are to be
#: expected where nothing fits the whole (a part is then at home on its chord), and where a chord's
#: symbol stands for a scale that is played.
_CHANGE_BITS: Final = 8.0
_EXPECTED_BITS: Final = 4.0
_AWAY_BITS: Final = 1.5
#: A frame that holds the chord it sounds over is that much likelier.
_CHORD_BITS: Final = 1.5
_FEWEST = 4


@dataclass(frozen=True, slots=True)
class Span:
    """Notes ``first`` to ``last`` (indexes, both included) hang on ``frame`` (None: nothing fits).

    ``chord`` is the chord throughout, None when there is none or it changes inside.
    """

    first: int
    last: int
    frame: Frame | None
    chord: ChordSymbol | None


@dataclass(frozen=True, slots=True)
class _Telling:
    """The notes up to a cut: what they cost, where their last part starts, its frame, and whether the
    part before it was announced.
    """

    cost: float
    start: int
    frame: Frame | None
    was_announced: bool | None


def find_spans(lick: Lick, home: PitchClass, frame: Frame | None) -> tuple[Span, ...]:
    """Cut a lick into spans of one frame each; one span over chords that do not move."""
    cuts = _cuts(lick)
    whole = (Span(0, len(lick.notes) - 1, frame, _chord(lick, 0, len(lick.notes) - 1)),)
    if len(cuts) < 3:
        return whole
    # Where nothing fits the whole, home says nothing of which chords lend their notes.
    weights = note_weights(lick)
    kinds = treatments(lick, home=home if frame is not None else None)
    between = [evidence_of(lick, range(a, b), weights, kinds) for a, b in pairwise(cuts)]
    # Cheapest telling of the notes up to each cut, by whether its last part was announced.
    tellings: list[dict[bool, _Telling]] = [{False: _Telling(0.0, 0, None, None)}]
    for end in range(1, len(cuts)):
        # Evidence of the notes from each cut up to this one.
        gathered = list(accumulate(reversed(between[:end]), lambda after, part: part + after))
        best: dict[bool, _Telling] = {}
        for start in range(end):
            is_all = (start, end) == (0, len(cuts) - 1)
            is_short = cuts[end] - cuts[start] < _FEWEST and not is_all
            if is_short and frame is None:
                continue
            chords = _chords(lick, cuts[start], cuts[end] - 1)
            # A few notes name no frame of their own, but may come home to the frame of the whole.
            only = is_short or (is_all and frame is not None)
            bits, found = _best(gathered[end - 1 - start], home, chords, frame, only=only)
            is_announced = len(chords) == 1 and found == _announced(chords[0])
            for was_announced, before in tellings[start].items():
                change = 0.0
                if start:
                    is_expected = frame is None or is_announced or was_announced
                    change = _EXPECTED_BITS if is_expected else _CHANGE_BITS
                cost = before.cost + bits + change
                if is_announced not in best or cost < best[is_announced].cost:
                    best[is_announced] = _Telling(cost, start, found, was_announced)
        tellings.append(best)
    if not tellings[-1]:
        return whole
    parts: list[tuple[int, int, Frame | None]] = []
    end = len(cuts) - 1
    announced = min(tellings[end], key=lambda flag: tellings[end][flag].cost)
    while end:
        told = tellings[end][announced]
        parts.append((cuts[told.start], cuts[end] - 1, told.frame))
        end, announced = told.start, bool(told.was_announced)
    parts.reverse()
    if len(parts) == 1:
        return whole
    return tuple(Span(a, b, found, _chord(lick, a, b)) for a, b, found in parts)


def say_spans(lick: Lick, spans: Sequence[Span]) -> str | None:
    """A sentence for a lick that no one frame holds, where each of its parts has one; else None."""
    frames = [span.frame for span in spans if span.frame is not None]
    if len(spans) < 2 or len(frames) < len(spans):
        return None
    shown = [
        f"{frame_words(frame)} {_where(lick, span)}"
        for frame, span in zip(frames[:4], spans[:4], strict=True)
    ]
    more = " ..." if len(spans) > 4 else ""
    return f"Nothing fits the whole, but each part has its frame: {', then '.join(shown)}{more}."


def _where(lick: Lick, span: Span) -> str:
    if span.chord is not None:
        return f"over {span.chord}"
    first, last = (lick.bar_at(lick.notes[at].onset).number for at in (span.first, span.last))
    if first == last:
        return f"in bar {first}" if first else "in the pickup"
    return f"in bars {first} to {last}" if first else f"up to bar {last}"


def _cuts(lick: Lick) -> list[int]:
    """Note indexes where the chord changes, with 0 and the number of notes at the ends."""
    cuts = [0]
    before: ChordSymbol | None = None
    onsets = lick.grid.onsets
    for index, chord in enumerate(lick.grid.chords):
        together = index and onsets[index - 1] == onsets[index]
        if index and chord is not None and chord != before and not together:
            cuts.append(index)
        before = chord if chord is not None else before
    if len(cuts) > 65:  # a whole tune: the changes of its first 64 spans tell enough
        del cuts[65:]
    cuts.append(len(lick.notes))
    return cuts


def _chords(lick: Lick, first: int, last: int) -> list[ChordSymbol]:
    found: list[ChordSymbol] = []
    before: ChordSymbol | None = None
    for chord in lick.grid.chords[first : last + 1]:
        if chord is not before and chord is not None and chord not in found:
            found.append(chord)
        before = chord
    return found


def _chord(lick: Lick, first: int, last: int) -> ChordSymbol | None:
    chords = _chords(lick, first, last)
    return chords[0] if len(chords) == 1 else None


def _announced(chord: ChordSymbol) -> Frame | None:
    """The scale that an altered symbol stands for."""
    name = CHORD_SCALES.get(chord.quality)
    return None if name is None else Frame(chord.root, COLLECTIONS[name])


def _best(
    found: Evidence,
    home: PitchClass,
    chords: Sequence[ChordSymbol],
    whole: Frame | None,
    *,
    only: bool,
) -> tuple[float, Frame | None]:
    """Cheapest frame of a part that its heard notes separate, or none at all.

    With ``only``, the frame of the whole and no other.
    """
    whole_bits = bit_set(whole.numbers) if whole is not None else 0
    tonics = list(dict.fromkeys([home, *(chord.root for chord in chords)]))
    seen: set[int] = set()
    best: tuple[float, Frame | None] = (float("inf"), None)
    near = {home.number} if whole is not None or not chords else {c.root.number for c in chords}
    ranking = Ranking(found, [0.0 if pc in near else _AWAY_BITS for pc in range(12)])
    for tonic in tonics:
        if tonic.number in seen or (only and not (whole and whole.tonic.number == tonic.number)):
            continue
        seen.add(tonic.number)
        heard = turned(found.heard, tonic.number)
        # The one chord of the part, as semitones above this tonic.
        chord = turned(bit_set(chords[0].numbers), tonic.number) if len(chords) == 1 else None
        announced = _announced(chords[0]) if len(chords) == 1 else None
        on_whole = whole is not None and whole.tonic.number == tonic.number
        for cost, _, number in ranking.on(tonic.number):
            bits = cost
            candidate = candidates[number]
            is_whole = on_whole and whole is not None and whole.collection is candidate.collection
            if not is_whole and only:
                continue
            if chord is not None and not chord & ~candidate.degrees:
                bits -= _CHORD_BITS
            # Naming the frame of the whole again, or the scale the symbol stands for, is cheap.
            if is_whole or (
                announced is not None and announced == Frame(tonic, candidate.collection)
            ):
                bits -= candidate.bits
            if bits >= best[0]:
                continue
            if is_whole:
                best = (bits, Frame(tonic, candidate.collection))
                continue
            # A smaller frame inside the whole's is a figure in it, not another frame.
            if whole_bits and not turned(candidate.degrees, -tonic.number % 12) & ~whole_bits:
                continue
            if not confusions(candidate.collection, heard):
                best = (bits, Frame(tonic, candidate.collection))
    return best
