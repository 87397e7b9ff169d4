"""Writing a lick as a text tab that reads back the same."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError, WriteError
from linewright.formats.tab.columns import Block, lay_bar
from linewright.formats.tab.header import (
    write_key,
    write_length,
    write_swing,
    write_tempo,
)
from linewright.formats.tab.slots import BarPlan, plan_bars
from linewright.formats.tab.spell import spell_notes
from linewright.fretboard import INSTRUMENTS, finger
from linewright.score import Bar, Instrument, Lick

__all__ = ["write_tab"]

#: Rows of a system above the strings, top first.
_ABOVE: Final = ("chords", "let ring", "palm mute", "strokes")


def write_tab(lick: Lick, *, counting: bool = True, width: int = 76) -> str:
    """Write a lick as a text tab.

    Parameters
    ----------
    lick : Lick
        Notes without string and fret are fingered first (:func:`linewright.fretboard.finger`).
    counting : bool
        Whether to write the counting row. With it the rhythm reads back exactly; without it a
        reader has only the columns.
    width : int
        Columns a system should keep to; a single bar may be wider.

    Raises
    ------
    WriteError
        When the lick holds what a tab cannot say: a rhythm no count names (quintuplets), a note
        out of the instrument's range, a harmonic that is not a natural one, a bend that is not
        a quarter, half or whole number of half steps.

    Notes
    -----
    A tab does not say how pitches are spelled (that follows from the key), how many strings a
    course has, or bar numbers other than 1, 2, 3; a time with no chord after a chord is written
    N.C.; picking strokes, palm mutes and let ring are said for all notes of a double stop.
    """
    lick = _placed(lick)
    if lick.instrument is None:
        raise WriteError("a tab needs an instrument")
    plans = plan_bars(lick, counting=counting)
    tokens = spell_notes(lick)
    lines = _header(lick, lick.instrument)
    labels = _labels(lick.instrument)
    before: BarPlan | None = None
    scale = _scale(plans)
    for group in _systems(plans):
        blocks = [
            lay_bar(plan, lick, tokens, len(labels), counting=counting, scale=scale)
            for plan in group
        ]
        at = 0
        while at < len(blocks):
            last = at + 1
            room = width - len(labels[0]) - 2 - blocks[at].width
            while last < len(blocks) and room >= blocks[last].width + 1:
                room -= blocks[last].width + 1
                last += 1
            lines.append("")
            lines += _inline_headers(before, group[at], counting=counting)
            before = group[last - 1]
            lines += _system(blocks[at:last], labels)
            at = last
    return "\n".join(line.rstrip() for line in lines).lstrip("\n") + "\n"


def _placed(lick: Lick) -> Lick:
    """The lick with an instrument and a place for every note."""
    strings = [note.string for note in lick.notes]
    strings += [grace.string for note in lick.notes for grace in note.grace]
    if lick.instrument is not None and None not in strings:
        return lick
    try:
        return finger(lick)
    except MusicError as error:
        raise WriteError(
            f"the lick cannot be fingered: {error.message}",
            accepted=error.accepted,
            place=error.where or None,
        ) from error


# -- header ------------------------------------------------------------------------------
def _header(lick: Lick, instrument: Instrument) -> list[str]:
    values: list[tuple[str, str | None]] = [
        ("Title", _line(lick.title) or "Untitled"),
        ("Tempo", write_tempo(lick.tempo, lick.meter) if lick.tempo else None),
        ("Meter", lick.meter.text),
        ("Key", write_key(lick.key) if lick.key else None),
        *_instrument_lines(instrument),
        ("Style", _line(lick.style)),
        ("Source", _line(lick.source)),
        ("Swing", write_swing(lick.swing) if lick.swing else None),
        ("Tags", ", ".join(_line(tag) or "" for tag in lick.tags) or None),
        ("Pickup", write_length(lick.pickup) if lick.pickup else None),
    ]
    return [f"{name}: {value}" for name, value in values if value]


def _line(text: str | None) -> str | None:
    """Text on one line, without control characters."""
    if text is None:
        return None
    return " ".join("".join(c if c >= " " and c != "\x7f" else " " for c in text).split()) or None


def _instrument_lines(instrument: Instrument) -> Iterator[tuple[str, str | None]]:
    kind = INSTRUMENTS.get(instrument.name)
    if instrument.short != (kind.short if kind else ()):
        raise WriteError(f"a tab cannot say where the short string of a {instrument.name} begins")
    yield "Instrument", None if instrument.name == "guitar" else _line(instrument.name)
    standard = kind is not None and instrument.strings == kind.standard
    if not standard:
        named = kind is not None and kind.tunings.get(instrument.tuning) == instrument.strings
        listed = " ".join(pitch.name for pitch in reversed(instrument.strings))
        yield "Tuning", instrument.tuning if named else listed
    yield "Capo", str(instrument.capo) if instrument.capo else None
    yield (
        "Frets",
        str(instrument.frets) if instrument.frets != (kind.frets if kind else 24) else None,
    )


def _inline_headers(before: BarPlan | None, plan: BarPlan, *, counting: bool) -> list[str]:
    """Header lines that change at this system."""
    bar, lines = plan.bar, []
    old = before.bar if before else None
    if old is not None and old.meter != bar.meter:
        lines.append(f"Meter: {bar.meter.text}")
    if old is not None and old.key != bar.key:
        lines.append(f"Key: {write_key(bar.key)}")
    irregular = old is not None and _bar_length(old) is not None and old.meter == bar.meter
    length = _bar_length(bar)
    if length is not None and (old is None or _bar_length(old) != length or old.meter != bar.meter):
        lines.append(f"Bar length: {write_length(length)}")
    elif length is None and irregular:
        lines.append("Bar length: full")
    if counting and plan.word != (before.word if before else "beats"):
        lines.append(f"Count: {plan.word}")
    return lines


def _bar_length(bar: Bar) -> Fraction | None:
    """A bar's length where the meter does not tell it."""
    return None if bar.is_full or bar.number == 0 else bar.duration


# -- systems -----------------------------------------------------------------------------
def _systems(plans: list[BarPlan]) -> Iterator[list[BarPlan]]:
    """Runs of bars under one meter, key and way of counting."""
    group: list[BarPlan] = []
    for plan in plans:
        if group and _settings(group[-1]) != _settings(plan):
            yield group
            group = []
        group.append(plan)
    yield group


def _settings(plan: BarPlan) -> tuple[object, ...]:
    bar = plan.bar
    return bar.meter, bar.key, _bar_length(bar), plan.word


def _scale(plans: list[BarPlan]) -> int:
    """Columns to a quarter: two to the shortest step that is at all common in the lick."""
    gaps = [b.at - a.at for plan in plans for a, b in zip(plan.slots, plan.slots[1:], strict=False)]
    shortest = min(gaps, default=Fraction(1))
    return 4 if shortest >= Fraction(1, 2) else 6 if shortest == Fraction(1, 3) else 8


def _labels(instrument: Instrument) -> list[str]:
    """Names of the strings, top line first; the thinner of two of one name in lower case."""
    names = [pitch.pitch_class.name for pitch in instrument.strings]
    lowest = {name: max(i for i, other in enumerate(names) if other == name) for name in names}
    labels = [
        name.lower() if index == 0 and lowest[name] != 0 else name
        for index, name in enumerate(names)
    ]
    size = max(len(label) for label in labels)
    return [label.ljust(size) for label in labels]


def _system(blocks: list[Block], labels: list[str]) -> list[str]:
    margin = " " * (len(labels[0]) + 1)
    lines = []
    for name in _ABOVE:
        row = margin + " ".join(block.above.get(name, "").ljust(block.width) for block in blocks)
        if row.strip():
            lines.append(row)
    for index, label in enumerate(labels):
        body = "|".join(block.strings[index] for block in blocks)
        lines.append(f"{label}|{body}|")
    count = margin + " ".join(block.count.ljust(block.width) for block in blocks)
    if count.strip():
        lines.append(count)
    return lines
