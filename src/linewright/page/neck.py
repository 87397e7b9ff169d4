"""The neck diagram: where a frame lies on the fretboard, and where in it the lick is played.

Drawn as players look at their own instrument on paper (common practice): the nut at the left,
string 1 on top. Shape says what a place is (square the tonic, circle another note of the frame,
diamond an outside note), weight whether the lick plays it; colour only repeats this.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, replace
from html import escape

from linewright.errors import MusicError, OptionError
from linewright.page.neck_signs import legend_lines, legend_rows, legend_svg, shape
from linewright.page.palette import INK, QUIET, SERIF
from linewright.page.signs import musical, printable
from linewright.score import Instrument, Lick, Note
from linewright.theory import Frame, PitchClass, degree_of

__all__ = ["neck_svg"]

_FRET, _STRING = 58, 36
_LEFT, _OPEN, _RIGHT = 26, 44, 16
_LEAST_FRETS, _DOTS, _SHORT_DOTS = 5, {3, 5, 7, 9, 15, 17, 19, 21}, {5, 7, 10, 15, 17}


@dataclass(frozen=True, slots=True)
class _Place:
    string: int
    fret: int
    text: str
    kind: str  # tonic, frame, outside or dead
    notes: tuple[int, ...]
    name: str
    played: bool = False  # by a note that sounds
    bent: str = ""  # the degree of an outside note reached by bending from a frame note's place


def neck_svg(
    instrument: Instrument,
    frame: Frame | None,
    *,
    lick: Lick | None = None,
    outside: Collection[int] | None = None,
    tonic: PitchClass | None = None,
    fret_range: tuple[int, int] | None = None,
    left_handed: bool = False,
    legend: bool = True,
    printed: bool = False,
) -> str:
    """Draw a frame and a lick on the neck as one ``svg`` element.

    Parameters
    ----------
    instrument : Instrument
    frame : Frame or None
        Its places are shown all over the window, labelled by degree; None shows the lick alone.
    lick : Lick, optional
        Its own places are stressed and carry ``data-notes`` (note indexes, space separated);
        each note that lies within the frets shown is at one place. A dead note stresses none.
    outside : collection of int, optional
        Indexes of the lick's outside notes; by default those whose pitch is not in the frame.
    tonic : PitchClass, optional
        What degrees are counted from where there is no frame.
    fret_range : (int, int), optional
        Lowest and highest fret shown, counted from the capo; by default a window around the lick.
    left_handed : bool
        Mirror the neck, the nut at the right.
    legend : bool
        Whether a line under the neck says what the shapes mean.
    printed : bool
        Set in the narrow letters of the printed pages: the legend keeps to one line.

    Raises
    ------
    OptionError
        For a fret range that the instrument does not have.
    """
    if lick is not None and lick.instrument is not None and lick.instrument != instrument:
        raise OptionError(
            f"the lick is for {lick.instrument.name} ({lick.instrument.tuning}), the neck is"
            f" that of a {instrument.name} ({instrument.tuning})",
            accepted="Give the lick's own instrument",
        )
    last = instrument.frets - instrument.capo
    if fret_range is not None and not 0 <= fret_range[0] < fret_range[1] <= last:
        raise OptionError(
            f"frets {fret_range[0]} to {fret_range[1]}",
            accepted=f"Use a lowest fret from 0 and a higher one up to {last}",
        )
    low, high = fret_range or _window(lick, last)
    root = frame.tonic if frame is not None else tonic
    places = _places(instrument, frame, lick, outside, root, low, high)
    return _Drawing(instrument, low, high, left_handed).svg(places, frame, legend, printed)


# -- what is shown ---------------------------------------------------------------------------
def _window(lick: Lick | None, last: int) -> tuple[int, int]:
    """Frets around the lick: its own and one to spare, at least five of them."""
    frets = {n.fret for n in lick.notes if n.fret is not None} if lick is not None else set()
    if not frets:
        return 0, min(_LEAST_FRETS, last)
    fretted = frets - {0} or {0}
    low = 0 if 0 in frets or min(fretted) <= 3 else min(fretted) - 1
    high = max(max(fretted) + 1, low + _LEAST_FRETS)
    return max(0, min(low, last - _LEAST_FRETS)), min(high, last)


def _places(
    instrument: Instrument,
    frame: Frame | None,
    lick: Lick | None,
    outside: Collection[int] | None,
    tonic: PitchClass | None,
    low: int,
    high: int,
) -> list[_Place]:
    played: dict[tuple[int, int], list[int]] = defaultdict(list)
    notes: tuple[Note, ...] = lick.notes if lick is not None else ()
    for index, note in enumerate(notes):
        if note.string is not None and note.fret is not None:
            played[note.string, note.fret].append(index)
    found = []
    for string in range(1, len(instrument.strings) + 1):
        for fret in sorted({0, *range(low, high + 1)} if low == 0 else range(low, high + 1)):
            try:
                midi = instrument.midi_at(string, fret)
            except MusicError:
                continue  # a short string does not reach here
            here = tuple(played.get((string, fret), ()))
            sounding = tuple(i for i in here if not notes[i].has("dead"))
            place: _Place | None
            if sounding:
                place = _played(string, fret, sounding, notes, frame, outside, tonic)
                place = replace(place, notes=here)
            else:
                place = _of_frame(string, fret, midi, frame)
                if here and place is None:
                    place = _Place(string, fret, "×", "dead", here, "dead note")
                elif here and place is not None:
                    place = replace(place, notes=here)
            if place is not None:
                found.append(place)
    return found


def _of_frame(string: int, fret: int, midi: int, frame: Frame | None) -> _Place | None:
    degree = frame.degree(midi % 12) if frame is not None else None
    if frame is None or degree is None:
        return None
    name = degree.above(frame.tonic).name
    kind = "frame" if degree.semitones else "tonic"
    return _Place(string, fret, degree.name, kind, (), name)


def _played(
    string: int,
    fret: int,
    here: tuple[int, ...],
    notes: tuple[Note, ...],
    frame: Frame | None,
    outside: Collection[int] | None,
    tonic: PitchClass | None,
) -> _Place:
    """A place of the lick, labelled by its first plain note (by a bent one if all are)."""
    first = min(here, key=lambda i: (bool(notes[i].bend), i))
    heard = notes[first].pitch.pitch_class
    degree = degree_of(heard, tonic) if tonic is not None else None
    text = (degree.name if degree else heard.name) + ("↑" if notes[first].bend else "")
    strange = [
        i in outside
        if outside is not None
        else frame is not None and notes[i].pitch.pitch_class not in frame
        for i in here
    ]
    kind = "outside" if all(strange) else "frame"
    bent = ""
    if any(strange) and kind == "frame":
        odd = next(i for i, is_odd in zip(here, strange, strict=True) if is_odd)
        reached = notes[odd].pitch.pitch_class
        bent = degree_of(reached, tonic).name if tonic is not None else reached.name
    if kind == "frame" and degree is not None and degree.semitones == 0:
        kind = "tonic"
    return _Place(string, fret, text, kind, here, heard.name, True, bent)


# -- how it is drawn -------------------------------------------------------------------------
class _Drawing:
    def __init__(self, instrument: Instrument, low: int, high: int, left_handed: bool) -> None:
        self.instrument, self.low, self.high, self.mirror = instrument, low, high, left_handed
        self.first = max(low, 1)  # the first fret that has a space of its own
        self.neck = _LEFT + (_OPEN if low == 0 else 14)
        self.width = self.neck + (high - self.first + 1) * _FRET + _RIGHT
        self.top = 40 if instrument.capo and low <= 1 else 24
        self.bottom = self.top + (len(instrument.strings) - 1) * _STRING
        self.short = dict(instrument.short)

    def x(self, at: float) -> float:
        return round(self.width - at if self.mirror else at, 1)

    def wire(self, fret: int) -> float:
        return self.neck + (fret - self.first + 1) * _FRET

    def middle(self, string: int, fret: int) -> float:
        """Where a place is marked: between its fret wires, an open string before the nut."""
        if fret == 0:
            start = self.short.get(string, 0) - self.instrument.capo
            if self.first <= start <= self.high:
                return self.wire(start) - _FRET / 2
            return _LEFT + _OPEN / 2 - 4
        return self.wire(fret) - _FRET / 2

    def y(self, string: int) -> int:
        return self.top + (string - 1) * _STRING

    def svg(self, places: list[_Place], frame: Frame | None, legend: bool, printed: bool) -> str:
        word = "arpeggio" if frame is not None and frame.collection.is_arpeggio else "scale"
        kinds = {p.kind for p in places} | {"lick" for p in places if p.played}
        kinds |= {"outside" for p in places if p.bent}
        unplayed = any(not p.played and p.kind != "dead" for p in places)
        rows = legend_rows(kinds, unplayed, word, 5.8 if printed else 7) if legend else []
        widths = [wide for _, wide in rows]
        width = max(self.width, 12 + (sum(widths) if printed else max(widths, default=0)))
        lines = legend_lines(rows, width - 12)
        height = self.bottom + 48 + (4 + 20 * len(lines) if lines else 0)
        shift = (width - self.width) / 2
        body = "".join(
            [self._dots(), self._wires(), self._strings(), self._numbers(),
             *(self._place(place) for place in places)]
        )  # fmt: skip
        if shift:
            body = f'<g transform="translate({shift:.1f} 0)">{body}</g>'
        for at, line in enumerate(lines):
            body += legend_svg(line, width, self.bottom + 56 + 20 * at)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="neck" role="group"'
            f' aria-label="{escape(self._label(frame))}" viewBox="0 0 {width:g} {height}"'
            f' width="100%" style="max-width:{width:g}px;height:auto;display:block"'
            f' font-family="{SERIF}" fill="{INK}">{body}</svg>'
        )

    def _label(self, frame: Frame | None) -> str:
        what = f": {musical(frame.name)}, {musical(' '.join(frame.names))}" if frame else ""
        return (
            f"Neck of the {printable(self.instrument.name)}, frets {self.low} to {self.high}{what}"
        )

    def _dots(self) -> str:
        """Position dots, at the frets where the instrument's makers put them."""
        family = _SHORT_DOTS if len(self.instrument.strings) in (4, 5) else _DOTS
        middle = (self.top + self.bottom) / 2
        found = []
        for fret in range(self.first, self.high + 1):
            actual = fret + self.instrument.capo
            x = self.x(self.wire(fret) - _FRET / 2)
            if actual in family:
                found.append(f'<circle cx="{x}" cy="{middle}" r="5"/>')
            elif actual == 12:
                for y in (middle - _STRING, middle + _STRING):
                    found.append(f'<circle cx="{x}" cy="{y}" r="5"/>')
        return f'<g class="dots" fill="#e2e2e2">{"".join(found)}</g>' if found else ""

    def _wires(self) -> str:
        top, bottom = self.top - 6, self.bottom + 6
        lines = [
            f'<path d="M{self.x(self.wire(f))} {top}V{bottom}"/>'
            for f in range(self.first, self.high + 1)
        ]
        found = f'<g class="frets" stroke="#9a9a9a" stroke-width="1.5">{"".join(lines)}</g>'
        start = self.x(self.neck)
        if self.low > 1:
            return f'<path d="M{start} {top}V{bottom}" stroke="#9a9a9a" stroke-width="1.5"/>{found}'
        capo = self.instrument.capo
        found += f'<path class="nut" d="M{start} {top}V{bottom}" stroke="{INK}" stroke-width="6"/>'
        if capo:
            found += (
                f'<text class="capo" x="{start}" y="{top - 13}" font-size="12"'
                f' text-anchor="middle">capo {capo}</text>'
            )
        return found

    def _strings(self) -> str:
        found = []
        begin = self.neck if self.low <= 1 else self.neck - 10
        for string in range(1, len(self.instrument.strings) + 1):
            start = self.short.get(string, 0) - self.instrument.capo
            left = begin if start < self.first else self.wire(start) - _FRET / 2
            if start > self.high:
                continue
            ys = (-2, 2) if self.instrument.courses == 2 else (0,)
            thick = 1 + 0.25 * string if self.instrument.courses == 1 else 1 + 0.15 * string
            found += [
                f'<path d="M{self.x(left)} {self.y(string) + dy}H{self.x(self.width - _RIGHT + 8)}"'
                f' stroke-width="{thick:g}"/>'
                for dy in ys
            ]
        return f'<g class="strings" stroke="#6f6f6f">{"".join(found)}</g>'

    def _numbers(self) -> str:
        frets = "".join(
            f'<text x="{self.x(self.wire(f) - _FRET / 2)}" y="{self.bottom + 36}">{f}</text>'
            for f in range(self.first, self.high + 1)
        )
        names = "".join(
            f'<text x="{self.x(10)}" y="{self.y(s) + 4.5}">{musical(p.pitch_class.name)}</text>'
            for s, p in enumerate(self.instrument.strings, start=1)
        )
        return (
            f'<g class="fret-numbers" font-size="13" fill="{QUIET}" text-anchor="middle">{frets}</g>'
            f'<g class="string-names" font-size="13" fill="{QUIET}" text-anchor="middle">{names}</g>'
        )

    def _place(self, place: _Place) -> str:
        x, y = self.x(self.middle(place.string, place.fret)), self.y(place.string)
        classes = f"place {place.kind}" + (" lick" if place.played else "")
        where = f"fret {place.fret}" if place.fret else "open"
        what = place.name if place.kind == "dead" else f"{place.name}, {place.text}"
        what += f", bent to {place.bent}" if place.bent else ""
        title = f"{musical(what)}: string {place.string}, {where}"
        data = f'data-string="{place.string}" data-fret="{place.fret}"'
        if place.kind != "dead":
            data += f' data-degree="{place.text.rstrip("↑")}"'
        if place.notes:
            data += f' data-notes="{" ".join(map(str, place.notes))}"'
        size = 14 if len(place.text) < 3 else 12
        weight = ' font-weight="bold"' if place.played else f' fill="{QUIET}"'
        return (
            f'<g class="{classes}" {data} role="img"><title>{title}</title>'
            f"{shape(place.kind, x, y, place.played)}"
            f'<text x="{x}" y="{y + 5}" font-size="{size}" text-anchor="middle"{weight}>'
            f"{musical(place.text)}</text>{self._bent(place, x, y)}</g>"
        )

    def _bent(self, place: _Place, x: float, y: float) -> str:
        """A small diamond at the shoulder of a place from which an outside note is bent."""
        if not place.bent:
            return ""
        at = x - 25 if self.mirror else x + 25
        return (
            f'<g class="bent">{shape("outside", at, y - 9, True, 11)}<text x="{at:g}"'
            f' y="{y - 5:g}" font-size="10" text-anchor="middle" font-weight="bold">'
            f"{musical(place.bent)}↑</text></g>"
        )
