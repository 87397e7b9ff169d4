"""Write a lick as ABC 2.1.

What ABC cannot say, and is therefore lost: string and fret, instrument, swing, tags, remarks;
bar numbers (the reader counts from 0 after a short first bar, else from 1); a gap between two
chords becomes N.C.; grace notes of a lower note of a double stop move to the top note. Marks ABC
has no sign for are written as annotations in the words of the marks table (``"^hammer-on"``),
which any program prints above the note and our reader reads back.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Final

from linewright.errors import WriteError
from linewright.formats.abc.text import escape
from linewright.formats.abc.vocabulary import WRITTEN, annotation_for
from linewright.score import Bar, Lick, Mark, Measure, Note, Symbol, Tempo, notate
from linewright.theory import Key, Pitch

__all__ = ["write_abc"]

_UNIT: Final = Fraction(1, 2)  # L:1/8
_SIGNS: Final = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}
_MODES: Final = {
    "major": "", "ionian": "", "minor": "m", "natural minor": "m", "aeolian": "m",
    "mixolydian": "mix", "dorian": "dor", "phrygian": "phr", "locrian": "loc", "lydian": "lyd",
}  # fmt: skip
_BARS_PER_LINE: Final = 4


def write_abc(lick: Lick) -> str:
    r"""The lick as one ABC tune, ending with a line end.

    Raises WriteError for a rhythm or an accidental that ABC cannot write.

    Examples
    --------
    >>> from linewright.formats.abc import read_abc
    >>> print(write_abc(read_abc("X:1\nT:Turn\nM:2/4\nL:1/8\nK:D\n\"A7\"c2 (3BAG|\"D\"F4|]")), end="")
    X:1
    T:Turn
    M:2/4
    L:1/8
    K:D
    "A7" c2 (3BAG | "D" F4 |]
    """
    lines = ["X:1", f"T:{escape(lick.title)}"]
    if lick.source:
        lines.append(f"S:{escape(lick.source)}")
    if lick.style:
        lines.append(f"R:{escape(lick.style)}")
    lines += [f"M:{_meter(lick.bars[0])}", "L:1/8"]
    if lick.tempo is not None:
        lines.append(f"Q:{_tempo(lick.tempo)}")
    lines.append(f"K:{_key(lick.key)}")
    return "\n".join([*lines, *_body(lick)]) + "\n"


def _meter(bar: Bar) -> str:
    meter = bar.meter
    if meter.groups:
        return f"({'+'.join(map(str, meter.groups))})/{meter.denominator}"
    return f"{meter.numerator}/{meter.denominator}"


def _tempo(tempo: Tempo) -> str:
    beat = tempo.beat / 4
    bpm = tempo.bpm
    number = str(bpm.numerator) if bpm.denominator == 1 else f"{float(bpm):.6f}".rstrip("0")
    return f"{beat.numerator}/{beat.denominator}={number}"


def _key(key: Key | None) -> str:
    if key is None:
        return "none"
    extra = "".join(f" {_SIGNS[_plain(n.alter)]}{n.step.lower()}" for n in key.added)
    return f"{key.tonic.step}{_key_sign(key.tonic.alter)}{_MODES[key.mode]}{extra}"


def _key_sign(alter: int) -> str:
    return {-1: "b", 0: "", 1: "#"}[alter]


def _plain(alter: int) -> int:
    if alter not in _SIGNS:
        raise WriteError(
            "ABC has no triple sharps or flats", accepted="Respell the note with its plainer name"
        )
    return alter


def _body(lick: Lick) -> list[str]:
    writer = _Writer(lick)
    lines, line = [], ""
    measures = notate(lick)
    for number, measure in enumerate(measures):
        last = number == len(measures) - 1
        line += f"{writer.measure(measure)} {'|]' if last else '|'} "
        if last or (measure.bar.number and measure.bar.number % _BARS_PER_LINE == 0):
            lines.append(line.rstrip())
            line = ""
    return lines


class _Writer:
    """Writes measure after measure, knowing the accidentals, chord changes and ties in force."""

    def __init__(self, lick: Lick) -> None:
        self.lick = lick
        self.changes = _chord_changes(lick)
        self.next_change = 0
        self.bar: Bar = lick.bars[0]
        self.by_letter: dict[str, int] = {}  # last accidental in the bar by letter
        self.by_place: dict[tuple[str, int], int] = {}  # and by letter and octave

    def measure(self, measure: Measure) -> str:
        """The text of one bar, without its bar line."""
        text = ""
        if measure.bar.meter != self.bar.meter:
            text += f"[M:{_meter(measure.bar)}]"
        if measure.bar.key != self.bar.key:
            text += f"[K:{_key(measure.bar.key)}]"
        self.bar = measure.bar
        self.by_letter, self.by_place = {}, {}
        beam: int | None = None
        pieces = [p for s in measure.symbols for p in self._cut_at_chords(s)]
        for index, (symbol, chord) in enumerate(pieces):
            joined = symbol.beam is not None and symbol.beam == beam and not chord
            if text and not joined:
                text += " "
            beam = symbol.beam
            if chord:
                text += chord + " "
            if symbol.tuplet is not None and (
                index == 0 or pieces[index - 1][0].tuplet != symbol.tuplet
            ):
                count = sum(s.tuplet == symbol.tuplet for s, _ in pieces)
                text += self._tuplet(measure, symbol.tuplet, count)
            text += self._symbol(measure, symbol)
        return text

    @staticmethod
    def _tuplet(measure: Measure, index: int, count: int) -> str:
        tuplet = measure.tuplets[index]
        p, q = tuplet.actual, tuplet.normal
        return "(3" if (p, q, count) == (3, 2, 3) else f"({p}:{q}:{count}"

    def _cut_at_chords(self, symbol: Symbol) -> Iterable[tuple[Symbol, str]]:
        """The symbol in pieces, each with the chord text that stands before it."""
        end = symbol.onset + symbol.duration
        at, chord, tied = symbol.onset, "", symbol.tie_in
        while self.next_change < len(self.changes) and self.changes[self.next_change][0] < end:
            onset, text = self.changes[self.next_change]
            if onset > at:
                yield _piece(symbol, at, onset, tie_in=tied, tie_out=not symbol.is_rest), chord
                at, tied = onset, not symbol.is_rest
            chord = f'"{text}"'
            self.next_change += 1
        yield _piece(symbol, at, end, tie_in=tied, tie_out=symbol.tie_out), chord

    def _symbol(self, measure: Measure, symbol: Symbol) -> str:
        scale = Fraction(1)
        if symbol.tuplet is not None:
            tuplet = measure.tuplets[symbol.tuplet]
            scale = Fraction(tuplet.actual, tuplet.normal)
        length = _length(symbol.duration * scale / _UNIT)
        tie = "-" if symbol.tie_out else ""
        if symbol.is_rest:
            return f"z{length}"
        notes = [self.lick.notes[index] for index in symbol.notes]
        before = "" if symbol.tie_in else self._ornaments(notes)
        marks = [_marks(n.marks) if not symbol.tie_in else "" for n in notes]
        if len(notes) == 1:
            return before + marks[0] + self._pitch(notes[0].pitch, symbol.tie_in) + length + tie
        shared = marks[0] if len({n.marks for n in notes}) == 1 else None
        places = {(note.pitch.step, note.pitch.octave) for note in notes}
        clash = len(places) < len(notes)  # c and ^c together: a tie cannot tell them apart
        inside = "".join(
            ("" if shared is not None else mark)
            + self._pitch(note.pitch, symbol.tie_in and not clash, signed=clash)
            for mark, note in zip(marks, notes, strict=True)
        )
        return f"{before}{shared or ''}[{inside}]{length}{tie}"

    def _ornaments(self, notes: list[Note]) -> str:
        graces = [grace.pitch for note in notes for grace in note.grace]
        if not graces:
            return ""
        return "{" + "".join(self._pitch(pitch, False) for pitch in graces) + "}"

    def _pitch(self, pitch: Pitch, tied: bool, *, signed: bool = False) -> str:
        """A note with an accidental wherever one reading or the other of the bar so far needs it,
        and always when ``signed``.

        Programs differ on whether an accidental holds in other octaves; the text reads the same
        under both rules. A note a tie leads to takes its accidental from the tie, unless the bar has
        given its letter another since, in this octave or in another.
        """
        step, octave, alter = pitch.step, pitch.octave, _plain(pitch.alter)
        signature = self.bar.key.alter(step) if self.bar.key is not None else 0
        letter = self.by_letter.get(step, signature)
        place = self.by_place.get((step, octave), signature)
        sign = ""
        changed = letter != alter or place != alter
        if signed or (changed if not tied else self.by_letter.get(step, alter) != alter):
            sign = _SIGNS[alter]
            self.by_letter[step] = self.by_place[step, octave] = alter
        if octave >= 5:
            return sign + step.lower() + "'" * (octave - 5)
        return sign + step + "," * (4 - octave)


def _piece(
    symbol: Symbol, start: Fraction, end: Fraction, *, tie_in: bool, tie_out: bool
) -> Symbol:
    return Symbol(
        symbol.notes, start, end - start, symbol.value, symbol.dots, symbol.tuplet,
        tie_in=tie_in, tie_out=tie_out, beam=symbol.beam,
    )  # fmt: skip


def _chord_changes(lick: Lick) -> list[tuple[Fraction, str]]:
    """Where a chord symbol stands and its text; a gap after a chord is N.C."""
    changes: list[tuple[Fraction, str]] = []
    at: Fraction | None = None
    for span in lick.chords:
        if at is not None and span.onset > at:
            changes.append((at, "N.C."))
        changes.append((span.onset, str(span.symbol) if span.symbol is not None else "N.C."))
        at = span.end
    if at is not None and at < lick.length:
        changes.append((at, "N.C."))
    return changes


def _marks(marks: tuple[Mark, ...]) -> str:
    return "".join(WRITTEN.get(mark) or annotation_for(mark) for mark in marks)


def _length(units: Fraction) -> str:
    """A length in units as ABC writes it: nothing for 1, ``3/2``, ``/`` for a half."""
    if units.denominator == 1:
        return "" if units == 1 else str(units.numerator)
    bottom = "" if units.denominator == 2 else str(units.denominator)
    return f"{units.numerator if units.numerator != 1 else ''}/{bottom}"
