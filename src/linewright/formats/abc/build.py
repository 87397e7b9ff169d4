"""Events in playing order laid out in time: notes, bars, chords."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Final

from linewright.errors import TooLarge
from linewright.formats.abc.events import (
    BarSign,
    Change,
    Ending,
    Event,
    Harmony,
    Remarks,
    Sound,
)
from linewright.score import Bar, ChordSpan, Grace, Meter, Note, bars_from_lengths
from linewright.theory import ChordSymbol, Key

__all__ = ["Laid", "lay"]

_MAX_BARS: Final = 10_000


@dataclass(slots=True)
class Laid:
    """The parts of a lick."""

    notes: tuple[Note, ...]
    bars: tuple[Bar, ...]
    chords: tuple[ChordSpan, ...]


@dataclass(slots=True)
class _Draft:
    """A bar in the making: length so far, what is in force, whether a strong sign closes it."""

    length: Fraction
    meter: Meter
    key: Key | None
    strong: bool = False


@dataclass(slots=True)
class _Layout:
    meter: Meter
    key: Key | None
    notes: list[Note] = field(default_factory=list)
    bars: list[_Draft] = field(default_factory=list)
    harmony: list[tuple[Fraction, ChordSymbol | None]] = field(default_factory=list)
    at: Fraction = Fraction(0)
    bar_start: Fraction = Fraction(0)
    open_group: int = 0  # notes at the end of ``notes`` a tie leaves from

    def close_bar(self, strong: bool) -> None:
        if self.at == self.bar_start:
            if self.bars:
                self.bars[-1].strong |= strong
            return
        if len(self.bars) >= _MAX_BARS:
            raise TooLarge(
                f"the tune has more than {_MAX_BARS:,} bars",
                accepted="Bring in the wanted bars alone",
            )
        self.bars.append(_Draft(self.at - self.bar_start, self.meter, self.key, strong))
        self.bar_start = self.at


def lay(
    events: Sequence[Event], meter: Meter, key: Key | None, remarks: Remarks, *, free: bool
) -> Laid:
    """Lay events out from time 0; ``meter`` and ``key`` are in force at the start.

    Bars keep the lengths they have; two parts of one bar that a repeat sign or double bar
    separates are joined where they add up to a full bar. ``free`` says there is no meter, so
    that no bar is remarked on.
    """
    layout = _Layout(meter, key)
    for event in events:
        if isinstance(event, Sound):
            _place(layout, event, remarks)
        elif isinstance(event, BarSign):
            layout.close_bar(bool(event.repeats or event.starts or event.double))
        elif isinstance(event, Harmony):
            if layout.harmony and layout.harmony[-1][0] == layout.at:
                layout.harmony[-1] = (layout.at, event.symbol)
            else:
                layout.harmony.append((layout.at, event.symbol))
        elif isinstance(event, Change):
            if layout.at != layout.bar_start and event.meter != layout.meter:
                layout.close_bar(False)  # a meter changes at a bar line, written or not
            layout.meter, layout.key = event.meter, event.key
        elif isinstance(event, Ending) and layout.at != layout.bar_start:
            layout.close_bar(True)
    layout.close_bar(False)
    bars = _bars(_joined(layout.bars))
    if not free:
        _remark_irregular(bars, remarks)
    end = bars[-1].end if bars else Fraction(0)
    return Laid(tuple(layout.notes), bars, _spans(layout.harmony, end))


def _place(layout: _Layout, sound: Sound, remarks: Remarks) -> None:
    if sound.bars > 1:
        for _ in range(sound.bars - 1):
            layout.at += sound.duration / sound.bars
            layout.close_bar(False)
        layout.at += sound.duration / sound.bars
        layout.open_group = 0
        return
    tones = (
        sorted(sound.tones, key=lambda tone: -tone.pitch.midi) if sound.tones[1:] else sound.tones
    )
    held = layout.notes[-layout.open_group :] if layout.open_group else []
    layout.open_group = 0
    if held and tones:
        same = [n.pitch.midi for n in held] == [t.pitch.midi for t in tones]
        dotted = held[0].has("staccato") and any(m.name == "staccato" for m in tones[0].marks)
        struck = bool(sound.graces) or dotted  # dots on both notes of a "tie" are portato
        if same and not struck:
            layout.notes[-len(held) :] = [
                replace(n, duration=n.duration + sound.duration) for n in held
            ]
            layout.at += sound.duration
            layout.open_group = len(held) if all(t.tied for t in tones) else 0
            return
        common = {n.pitch.midi for n in held} & {t.pitch.midi for t in tones}
        remarks.add(
            "a tied note that has a grace, or a dot like the note before it, is struck again"
            if same
            else "a tie that holds only part of a double stop: the note is struck again"
            if common
            else "a tie between different notes was read as a slur",
            sound.line,
            sound.column,
        )
    for number, tone in enumerate(tones):
        graces = tuple(Grace(p) for p in sound.graces) if not number else ()
        layout.notes.append(
            Note(layout.at, sound.duration, tone.pitch, marks=tone.marks, grace=graces)
        )
    if tones and all(tone.tied for tone in tones):
        layout.open_group = len(tones)
    layout.at += sound.duration


def _joined(drafts: list[_Draft]) -> list[_Draft]:
    """Bars with the parts of one bar put together again."""
    done: list[_Draft] = []
    for number, draft in enumerate(drafts):
        before = done[-1] if done else None
        if (
            before is not None
            and before.strong
            and (before.meter, before.key) == (draft.meter, draft.key)
            and before.length < before.meter.length
            and before.length + draft.length == before.meter.length
            and number
        ):
            before.length += draft.length
            before.strong = draft.strong
        else:
            done.append(replace(draft))
    return done


def _bars(drafts: list[_Draft]) -> tuple[Bar, ...]:
    pickup = len(drafts) > 1 and drafts[0].length < drafts[0].meter.length
    return bars_from_lengths([(d.length, d.meter, d.key) for d in drafts], pickup=pickup)


def _remark_irregular(bars: tuple[Bar, ...], remarks: Remarks) -> None:
    odd = [bar.number for bar in bars[:-1] if bar.number and not bar.is_full]
    if odd:
        listed = ", ".join(map(str, odd[:8])) + (" and more" if len(odd) > 8 else "")
        remarks.add(f"bars longer or shorter than the meter were kept as they are: {listed}")


def _spans(
    harmony: list[tuple[Fraction, ChordSymbol | None]], end: Fraction
) -> tuple[ChordSpan, ...]:
    spans = []
    stops = [at for at, _ in harmony[1:]] + [end] * bool(harmony)
    for (at, symbol), stop in zip(harmony, stops, strict=True):
        if stop > at:
            spans.append(ChordSpan(at, stop - at, symbol))
    return tuple(spans)
