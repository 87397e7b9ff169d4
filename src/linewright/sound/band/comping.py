"""The guitar of the band: voicings laid out in a style's rhythm."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Final

from linewright.fretboard import Place
from linewright.score import Instrument, swung
from linewright.score.performance import Part, Stroke
from linewright.sound.band.changes import Changes
from linewright.sound.band.styles import BandStyle, Hit, hits
from linewright.sound.band.voicings import Voicing, voicings_through

__all__ = ["guitar_part"]

#: Seconds from one string of a strum to the next.
_STRUM: Final = Fraction(9, 1000)
#: Which note of a shape an eighth of a ballad takes, counted from the lowest.
_SPREAD: Final = (0, 2, 3, 4, 3, 2)
#: Styles that strike seldom enough for a chord to pass between two hits.
_SELDOM: Final = ("plain", "ballad", "boom-chick", "waltz")


def guitar_part(
    changes: Changes, style: BandStyle, instrument: Instrument, quarter_bpm: Fraction
) -> Part:
    """What the rhythm guitar plays over the changes."""
    spans = [span for span in changes.spans if span.symbol is not None]
    shapes = voicings_through(
        [span.symbol for span in spans if span.symbol is not None], instrument, style.voicing
    )
    by_onset = {span.onset: shape for span, shape in zip(spans, shapes, strict=True)}
    strokes: list[Stroke] = []
    between = (_STRUM * quarter_bpm / 60).limit_denominator(960)
    for hit in _swung(_played(changes, style), changes):
        strokes += _struck(hit, by_onset, style, between)
    strokes.sort(key=lambda s: (s.onset, -(s.string or 0)))
    return Part("Guitar", "steel", tuple(_damped(strokes)))


def _played(changes: Changes, style: BandStyle) -> Iterator[tuple[Hit, Fraction]]:
    """Every hit where a chord holds, none lasting past it, with the onset of its chord."""
    for bar in changes.bars:
        struck = set()
        for hit in hits(style, bar):
            struck.add(hit.onset)
            span = changes.span_at(hit.onset)
            if span is not None:
                yield replace(hit, duration=min(hit.duration, span.end - hit.onset)), span.onset
        if style.name in _SELDOM and bar.number:  # a chord that begins off the pattern is heard
            for span in changes.spans:
                if span.symbol and bar.onset < span.onset < bar.end and span.onset not in struck:
                    length = min(span.end, bar.end) - span.onset
                    yield Hit(span.onset, length, "down", 0.5), span.onset


def _swung(
    played: Iterable[tuple[Hit, Fraction]], changes: Changes
) -> Iterator[tuple[Hit, Fraction]]:
    listed = list(played)
    moved = swung((hit.onset for hit, _ in listed), changes.bars, changes.swing)
    for hit, chord in listed:
        onset, end = hit.onset, hit.onset + hit.duration
        onset, end = moved.get(onset, onset), moved.get(end, end)
        yield replace(hit, onset=onset, duration=end - onset), chord


def _struck(
    played: tuple[Hit, Fraction],
    shapes: dict[Fraction, Voicing],
    style: BandStyle,
    between: Fraction,
) -> Iterator[Stroke]:
    hit, chord = played
    shape, length = shapes[chord], hit.duration
    pairs = list(zip(shape.places, shape.midis, strict=True))
    if hit.kind == "bass":
        pairs = pairs[:1]
    elif hit.kind == "spread":
        steps = [step for step in _SPREAD if step < len(pairs)] or [0]
        pairs = [pairs[steps[hit.step % len(steps)]]]
    elif hit.kind == "up":
        pairs = pairs[::-1][:4]
    elif style.name in ("boom-chick", "waltz") and len(pairs) > 3:
        pairs = pairs[1:]  # the thumb has the lowest string
    for rank, (place, midi) in enumerate(pairs):
        late = min(rank * between, length / 2)
        yield _stroke(place, midi, hit.onset + late, length - late, hit.strength)


def _stroke(
    place: Place, midi: int, onset: Fraction, duration: Fraction, strength: float
) -> Stroke:
    return Stroke(onset, duration, midi, place.string, place.fret, strength)


def _damped(strokes: list[Stroke]) -> Iterator[Stroke]:
    """The strokes, each let go where its string is struck again."""
    after: dict[int | None, Fraction] = {}
    kept = []
    for stroke in reversed(strokes):
        end = min(stroke.end, after.get(stroke.string, stroke.end))
        after[stroke.string] = stroke.onset
        if end > stroke.onset:
            kept.append(replace(stroke, duration=end - stroke.onset))
    return reversed(kept)
