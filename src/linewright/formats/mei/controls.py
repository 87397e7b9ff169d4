"""What stands around the notes: chord symbols, labels, slurs, slides, words.

Each control event belongs to the measure in which it starts, as MEI has it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from linewright.formats.mei.layers import ID, Ids
from linewright.score import Lick, Note, Tempo

__all__ = ["BEND_AMOUNTS", "control_events", "joined_to", "sign"]

Events = dict[int, list[Element]]

#: Joining marks that are written with a slur, and the letter over it.
LETTERS = {"hammer-on": "H", "pull-off": "P", "release": "R"}
#: Semitones bent -> what a player reads over the arrow (common practice: 2 semitones are "full").
BEND_AMOUNTS = {
    Fraction(1, 2): "¼", Fraction(1): "½", Fraction(3, 2): "¾", Fraction(2): "full",
    Fraction(3): "1½", Fraction(4): "2",
}  # fmt: skip
#: Marks written as words that hold over a run of notes.
RUNS = {"palm mute": "P.M.", "let ring": "let ring"}
#: Value of a metronome beat in quarters -> MEI ``mm.unit``, ``mm.dots`` and SMuFL note sign.
BEATS = {
    Fraction(2): ("2", 0, "\uecA3"), Fraction(3): ("2", 1, "\uecA3"),
    Fraction(1): ("4", 0, "\uecA5"), Fraction(3, 2): ("4", 1, "\uecA5"),
    Fraction(1, 2): ("8", 0, "\uecA7"), Fraction(3, 4): ("8", 1, "\uecA7"),
    Fraction(4): ("1", 0, "\uecA2"),
}  # fmt: skip


def sign(text: str) -> str:
    """A chord symbol or degree with printed accidentals: ``Bb7#9`` becomes ``B♭7♯9``."""
    return text.replace("b", "♭").replace("#", "♯")


def control_events(
    lick: Lick,
    ids: Ids,
    *,
    labels: Mapping[int, str],
    outside: frozenset[int],
    tab: bool,
    heading: bool,
) -> Events:
    """Control events by the place of their measure in ``lick.bars``."""
    writer = _Controls(lick, ids, tab)
    if heading:
        writer.tempo()
        writer.capo()
    writer.chords()
    writer.labels(labels, outside)
    writer.joins()
    writer.marks()
    writer.runs()
    return writer.events


class _Controls:
    def __init__(self, lick: Lick, ids: Ids, tab: bool) -> None:
        self.lick, self.ids, self.tab = lick, ids, tab
        self.events: Events = defaultdict(list)
        self._place = {bar.onset: place for place, bar in enumerate(lick.bars)}

    def add(self, onset: Fraction, name: str, text: str = "", **attributes: str) -> Element:
        element = Element(name, {key.replace("_", "."): value for key, value in attributes.items()})
        if text:
            element.text = text
        self.events[self._place[self.lick.bar_at(onset).onset]].append(element)
        return element

    def stamp(self, onset: Fraction) -> str:
        bar = self.lick.bar_at(onset)
        beat = 1 + (onset - bar.onset) * bar.meter.denominator / 4
        return f"{float(beat):.6g}"

    def on_tab(self, index: int) -> bool:
        return self.tab and self.lick.notes[index].string is not None

    # -- over the staff ------------------------------------------------------------------
    def capo(self) -> None:
        instrument = self.lick.instrument
        if self.tab and instrument is not None and instrument.capo:
            text = f"Capo {instrument.capo}"
            self.add(Fraction(0), "dir", text, tstamp="1", staff="2", place="above", type="capo")

    def tempo(self) -> None:
        tempo, swung = self.lick.tempo, self.lick.swing is not None
        if tempo is None and not swung:
            return
        at = {"tstamp": "1", "staff": "1", "place": "above"}
        if tempo is None:
            self.add(Fraction(0), "tempo", "Swing", **at)
            return
        element = self.add(Fraction(0), "tempo", **at, **_metronome(tempo))
        note = BEATS.get(tempo.beat)
        words = f" = {float(tempo.bpm):g}" + (", swing" if swung else "")
        if note is None:
            element.text = f"{float(tempo.quarter_bpm):g} quarters a minute"
            return
        glyph = SubElement(element, "rend", {"glyph.auth": "smufl", "type": "beat"})
        glyph.text = note[2] + ("\uecb7" if note[1] else "")
        glyph.tail = words

    def chords(self) -> None:
        for span in self.lick.chords:
            text = "N.C." if span.symbol is None else sign(span.symbol.text)
            stamp = self.stamp(span.onset)
            self.add(span.onset, "harm", text, tstamp=stamp, staff="1", place="above", type="chord")

    # -- under the staff -----------------------------------------------------------------
    def labels(self, labels: Mapping[int, str], outside: frozenset[int]) -> None:
        columns: dict[Fraction, list[int]] = defaultdict(list)
        for index in sorted(set(labels) | outside):
            columns[self.lick.notes[index].onset].append(index)
        for onset, column in columns.items():
            for row, index in enumerate(column, start=1):
                boxed = index in outside
                element = self.add(
                    onset, "harm", n=str(row), startid=f"#n{index}", staff="1", place="below",
                    type="label outside" if boxed else "label",
                )  # fmt: skip
                element.set(ID, f"l{index}")
                text = sign(labels.get(index, "◆"))
                if boxed:
                    SubElement(element, "rend", rend="box").text = text
                else:
                    element.text = text

    # -- between the notes ---------------------------------------------------------------
    def joins(self) -> None:
        notes = self.lick.notes
        before = {i: joined_to(self.lick, i) for i, note in enumerate(notes) if note.is_joined}
        slurred = {
            i: j
            for i, j in before.items()
            if j is not None and any(notes[i].has(name) for name in LETTERS)
        }
        followed = set(slurred.values())
        for last in (i for i in slurred if i not in followed):
            first = last
            while first in slurred:
                first = slurred[first]
            self.slur(first, last)
        for index, note in enumerate(notes):
            if not (note.marks or note.grace):
                continue
            for name, letter in LETTERS.items():
                if note.has(name):
                    self.letter(index, letter, name, before.get(index))
            if note.has("slide"):
                start = before.get(index)
                if start is not None:
                    self.slide(start, index)
            if note.grace:
                start_id = f"#n{index}-g1"
                self.add(note.onset, "slur", startid=start_id, endid=f"#n{index}", type="grace")

    def slur(self, first: int, last: int) -> None:
        onset = self.lick.notes[first].onset
        self.add(onset, "slur", startid=f"#n{first}", endid=f"#n{last}", staff="1", type="joined")
        if self.on_tab(first) and self.on_tab(last):
            self.add(
                onset, "slur", startid=f"#t{first}", endid=f"#t{last}", staff="2",
                type="joined", curvedir="above",
            )  # fmt: skip

    def letter(self, index: int, letter: str, name: str, before: int | None) -> None:
        note = self.lick.notes[index]
        staff = "2" if self.on_tab(index) else "1"
        onset = note.onset
        if before is not None:
            start = self.lick.notes[before].onset
            if self.lick.bar_at(start) == self.lick.bar_at(onset):
                onset = (start + onset) / 2
        between = f" between-{before}-{index}" if before is not None and staff == "2" else ""
        element = self.add(
            onset, "dir", tstamp=self.stamp(onset), staff=staff, place="above",
            type=f"letter {name}{between}",
        )  # fmt: skip
        SubElement(element, "rend", fontstyle="normal", fontsize="xx-small").text = letter

    def slide(self, start: int, end: int) -> None:
        onset = self.lick.notes[start].onset
        self.add(onset, "gliss", startid=f"#{self.ids.last(start)}", endid=f"#n{end}", type="slide")
        if self.on_tab(start) and self.on_tab(end):
            a, b = self.lick.notes[start].fret or 0, self.lick.notes[end].fret or 0
            side = "up" if b >= a else "down"
            self.add(
                onset, "gliss", startid=f"#t{start}", endid=f"#t{end}", staff="2",
                type=f"slide {side} between-{start}-{end}",
            )  # fmt: skip

    # -- on one note ---------------------------------------------------------------------
    def marks(self) -> None:
        for index, note in enumerate(self.lick.notes):
            if not note.marks:
                continue
            where = (
                {"startid": f"#t{index}", "staff": "2"}
                if self.on_tab(index)
                else {"startid": f"#n{index}", "staff": "1"}
            )
            if note.bend:
                text = BEND_AMOUNTS.get(note.bend, f"{float(note.bend / 2):g}")
                self.word(note, text, f"bend note-{index}", where)
            if note.has("vibrato"):
                self.word(note, "~~~~", f"vibrato note-{index}", where)

    def word(self, note: Note, text: str, kind: str, where: Mapping[str, str]) -> None:
        element = self.add(note.onset, "dir", place="above", type=kind, **where)
        SubElement(element, "rend", fontstyle="normal", fontsize="xx-small").text = text

    def runs(self) -> None:
        """Palm mute and let ring, each written once over the notes it holds for."""
        notes = self.lick.notes
        marked = {mark.name for note in notes for mark in note.marks}
        for name, text in RUNS.items():
            if name not in marked:
                continue
            start: int | None = None
            for index in range(len(notes) + 1):
                holds = index < len(notes) and notes[index].has(name)
                if holds and start is None:
                    start = index
                elif not holds and start is not None:
                    self.run(name, text, start, index - 1)
                    start = None

    def run(self, name: str, text: str, first: int, last: int) -> None:
        tab = self.on_tab(first) and self.on_tab(last)
        letter = "t" if tab else "n"
        attributes = {
            "startid": f"#{letter}{first}", "staff": "2" if tab else "1", "place": "above",
            "type": name.replace(" ", "-"),
        }  # fmt: skip
        if self.lick.notes[last].onset > self.lick.notes[first].onset:
            attributes |= {"endid": f"#{letter}{last}", "extender": "true"}
        element = self.add(self.lick.notes[first].onset, "dir", **attributes)
        SubElement(element, "rend", fontstyle="normal", fontsize="xx-small").text = text


def _metronome(tempo: Tempo) -> dict[str, str]:
    given = {"midi.bpm": f"{float(tempo.quarter_bpm):.6g}", "mm": f"{float(tempo.bpm):.6g}"}
    unit, dots, _ = BEATS.get(tempo.beat, ("4", 0, ""))
    given["mm.unit"] = unit
    if dots:
        given["mm.dots"] = str(dots)
    return given


def joined_to(lick: Lick, index: int) -> int | None:
    """The note that a joining mark on note ``index`` starts from: one that ends where this one
    begins, on the same string; without strings, the nearest in pitch.

    None when there is no such note: a hammer-on from nowhere, a slide from out of the air.
    """
    note = lick.notes[index]
    before = []
    for i in range(index - 1, -1, -1):  # notes follow in time: those that touch this one are near
        if lick.notes[i].end == note.onset:
            before.append(i)
        elif lick.notes[i].onset != note.onset:
            break
    if note.string is not None:
        before = [i for i in before if lick.notes[i].string in (note.string, None)]
    return min(before, key=lambda i: abs(lick.notes[i].midi - note.midi), default=None)
