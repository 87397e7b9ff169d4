"""The music of one voice, read sign by sign into events."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from typing import Final

from linewright.errors import LinewrightError, MusicError
from linewright.formats.abc.book import Field, Segment
from linewright.formats.abc.events import (
    BarSign,
    Ending,
    Harmony,
    Remarks,
    Sound,
    Tone,
)
from linewright.formats.abc.header import (
    KeyField,
)
from linewright.formats.abc.scanner import (
    GRACE_NOTE,
    TOKEN,
    broken_factors,
    length_of,
    tuplet_of,
)
from linewright.formats.abc.state import FREE_METER, VoiceState
from linewright.formats.abc.vocabulary import (
    DECORATIONS,
    chord_symbol,
    mark_of_annotation,
    pass_numbers,
)
from linewright.score import Mark, Meter
from linewright.theory import Pitch
from linewright.theory.chords import NO_CHORD

__all__ = ["BodyReader"]

_MUSIC_ONLY: Final = re.compile(r"[A-Ga-gz0-9,'/<>.()^_=\-]+")
#: Measures one rest may fill.
_MAX_REST: Final = 200


class BodyReader(VoiceState):
    """Reads the body of one voice; ``events`` holds what was found.

    Takes what is in force at the start, as :class:`VoiceState` says.
    """

    def __init__(
        self,
        meter: Meter | None,
        unit: Fraction,
        key: KeyField,
        *,
        propagate: str,
        user: dict[str, str],
        remarks: Remarks,
    ) -> None:
        super().__init__(meter, unit, key, propagate=propagate, user=user, remarks=remarks)
        self.strays = 0
        self._marks: list[Mark] = []
        self._graces: tuple[Pitch, ...] = ()
        self._chord: Sound | None = None
        self._factor: Fraction | None = None  # what broken rhythm does to the next sound
        self._last: Sound | None = None
        self._tuplet: tuple[Fraction, int] | None = None
        self._overlay = False
        self._outer: list[Mark] = []  # decorations before an open chord
        self._handlers: dict[str, Callable[[re.Match[str]], int | None]] = {
            "note": self._note,
            "bar": self._bar,
            "rest": self._rest,
            "bars": self._whole_bars,
            "tuplet": self._start_tuplet,
            "grace": self._grace,
            "broken": self._broken,
            "tie": self._tie,
            "string": self._string,
            "deco": self._decoration,
            "plus": self._decoration,
            "field": self._inline,
            "ending": self._ending,
            "open": self._open_chord,
            "close": self._close_chord,
            "short": self._short,
            "overlay": self._start_overlay,
            "stray": self._stray,
        }

    # -- the whole -----------------------------------------------------------------------
    def read(self, body: list[Field | Segment]) -> None:
        """Read all segments and fields in order."""
        for part in body:
            if isinstance(part, Field):
                self._line, self._before = part.line, 0
                self.field(part.letter, part.value)
            else:
                self._line, self._before = part.line, part.before
                self._segment(part.text)
        self._end_chord()

    def _segment(self, text: str) -> None:
        at, size, handlers = 0, len(text), self._handlers
        while at < size:
            match = TOKEN.match(text, at)
            if match is None:  # the last alternative takes any character but a line end
                at += 1
                continue
            kind = match.lastgroup or "stray"
            if kind == "barend":  # the figure of an ending stands after the bar group
                kind = "bar"
            if kind in _SILENT or (self._overlay and kind != "bar"):
                at = match.end()
                continue
            try:
                moved = handlers[kind](match)
            except MusicError as error:
                raise self._error(error.message, match, error.accepted) from error
            at = match.end() if moved is None else moved

    # -- notes ---------------------------------------------------------------------------
    def _note(self, match: re.Match[str]) -> None:
        pitch = self._pitches.sounding(match)
        if self._chord is not None:
            tone = Tone(pitch, tuple(dict.fromkeys(self._marks)))
            self._marks = []
            length = length_of(match["len"])
            if not self._chord.tones:
                self._chord.duration = length
            elif self._chord.duration != length:
                self._remark("notes struck together all take the length of the first", match)
            if len(self._chord.tones) < 24:
                self._chord.tones.append(tone)
            return
        duration = self._duration(match["len"])
        if duration:
            self._sound([Tone(pitch)], duration, match)
        else:
            self._remark("a note of no length was left out", match)

    def _rest(self, match: re.Match[str]) -> None:
        duration = self._duration(match["restlen"])
        if self._chord is not None:
            self._remark("a rest inside a chord was left out", match)
        elif duration:
            self._sound([], duration, match)

    def _whole_bars(self, match: re.Match[str]) -> None:
        count = int(match["count"] or 1)
        if not 1 <= count <= _MAX_REST:
            raise self._error(f"a rest of {count} bars", match, f"Use 1 to {_MAX_REST}")
        length = (self._meter or FREE_METER).length
        self._sound([], length * count, match)
        if self._last is not None:
            self._last.bars = count

    def _sound(self, tones: list[Tone], duration: Fraction, match: re.Match[str]) -> None:
        if self._factor is not None:
            duration *= self._factor
            self._factor = None
        if self._tuplet is not None:
            duration *= self._tuplet[0]
            left = self._tuplet[1] - 1
            self._tuplet = (self._tuplet[0], left) if left else None
        if self._marks:
            common = tuple(self._marks)
            for tone in tones:
                tone.marks = tuple(dict.fromkeys(common + tone.marks))
            if tones:
                self._marks = []
        column = self._before + match.start() + 1
        self._last = Sound(tones, duration, self._graces, self._line, column)
        if tones:
            self._graces = ()
        self._pitches.tied.clear()
        self._append(self._last)

    def _grace(self, match: re.Match[str]) -> None:
        found = []
        for note in GRACE_NOTE.finditer(match["inner"]):
            found.append(self._pitches.sounding(note))
        self._graces = (*self._graces, *found)[:16]

    def _tie(self, match: re.Match[str]) -> None:
        if self._chord is not None:
            if self._chord.tones:
                self._chord.tones[-1].tied = True
            return
        if self._last is None or not self._last.tones:
            self._remark("a tie with no note before it was left out", match)
            return
        for tone in self._last.tones:
            tone.tied = True
        self._carry()

    def _carry(self) -> None:
        if self._last is not None:
            self._pitches.carry(tone.pitch for tone in self._last.tones if tone.tied)

    # -- chords of notes -------------------------------------------------------------------
    def _open_chord(self, match: re.Match[str]) -> None:
        self._end_chord(match)
        self._chord = Sound([], Fraction(1), line=self._line)
        self._outer, self._marks = self._marks, []

    def _close_chord(self, match: re.Match[str]) -> None:
        chord = self._chord
        if chord is None:
            self._stray(match)
            return
        self._chord, self._marks = None, self._outer
        duration = self._duration(match["chordlen"]) * chord.duration
        if not chord.tones or not duration:
            return
        self._sound(chord.tones, duration, match)
        self._carry()

    def _end_chord(self, match: re.Match[str] | None = None) -> None:
        """Close a chord that was left open."""
        chord = self._chord
        if chord is None:
            return
        self._chord, self._marks = None, self._outer
        self._remark("a chord was not closed: its notes were read one after another", match)
        for tone in chord.tones:
            self._append(Sound([tone], self._unit * (chord.duration or 1), line=self._line))

    # -- rhythm --------------------------------------------------------------------------
    def _start_tuplet(self, match: re.Match[str]) -> None:
        if len(match["p"]) > 1 and match["q"] is None:  # not the short form: a slur and figures
            self._stray(match)
            return
        compound = self._meter is not None and self._meter.is_compound
        self._tuplet = tuplet_of(match, compound=compound)

    def _broken(self, match: re.Match[str]) -> None:
        if self._last is None or self._chord is not None:
            self._remark("a broken-rhythm sign with no note before it was left out", match)
            return
        first, self._factor = broken_factors(match[0])
        self._last.duration *= first
        if self._last.duration.denominator > 1 << 16:
            raise self._error("broken rhythm has made a note too short to write", match)

    # -- bar lines and endings -----------------------------------------------------------
    def _bar(self, match: re.Match[str]) -> None:
        self._end_chord(match)
        sign = match["bar"]
        self._overlay = False
        self._pitches.new_bar()
        core = sign.strip(".[]").replace("[", "")
        if "|" in core:
            ends = len(core) - len(core.lstrip(":"))
            starts = core.endswith(":")
        elif sign.endswith("]"):  # ":]" for ":|", and the invisible "[]"
            ends, starts = len(core), False
        else:  # "::" ends one repeat and starts another
            ends, starts = len(core) // 2, True
        double = sign.count("|") > 1 or "[" in sign or "]" in sign
        self._append(BarSign(min(ends, 8), starts, double))
        if match["barend"]:
            self._append(Ending(pass_numbers(match["barend"])))

    def _ending(self, match: re.Match[str]) -> None:
        self._end_chord(match)
        self._append(Ending(pass_numbers(match["numbers"])))

    def _start_overlay(self, match: re.Match[str]) -> None:
        self._remark("only the first layer of an overlay (&) was read", match)
        self._overlay = True

    # -- words and signs -----------------------------------------------------------------
    def _string(self, match: re.Match[str]) -> None:
        words = match["words"]
        if words[:1] in ("^", "_", "<", ">", "@"):
            mark = mark_of_annotation(words[1:])
            if mark is not None and mark not in self._marks:
                self._marks.append(mark)
            return
        symbol = words.strip()
        if symbol in NO_CHORD:
            self._append(Harmony(None))
            return
        chord = chord_symbol(symbol)
        if chord is None:
            if symbol:
                self._remark(f'"{symbol[:40]}" is not a chord symbol and was left out', match)
        else:
            self._append(Harmony(chord))

    def _mark(self, name: str, match: re.Match[str]) -> None:
        mark = DECORATIONS.get(name)
        if mark is None:
            if name not in ("nil", "none"):
                self._remark(f"the decoration {name} was left out", match)
        elif mark not in self._marks:
            self._marks.append(mark)

    def _short(self, match: re.Match[str]) -> None:
        self._mark(self._decorations.get(match[0], match[0]), match)

    def _decoration(self, match: re.Match[str]) -> int | None:
        """``!name!`` or its old form ``+name+``; either sign may also mean something else."""
        name = match["name"] or match["oldname"]
        if name in DECORATIONS or not _MUSIC_ONLY.fullmatch(name):
            self._mark(name, match)
            return None
        notes = list(GRACE_NOTE.finditer(name)) if match["oldname"] else []
        if len(notes) < 2 or self._chord is not None:  # an old line-break sign, a stray plus
            return match.start() + 1
        tones = [Tone(self._pitches.sounding(note)) for note in notes]  # +CEG+: old ABC's chords
        self._sound(tones, self._duration(notes[0]["len"]) or self._unit, match)
        return None

    def _stray(self, match: re.Match[str]) -> None:
        first = match.start() == 0 and match[0] in "123456789"
        if first and self.events and isinstance(self.events[-1], BarSign):
            self._append(Ending(pass_numbers(match[0])))  # its bar line ended the line before
            return
        self.strays += 1
        self._remark(f"{match[0]!r} means nothing here and was left out", match)

    def _inline(self, match: re.Match[str]) -> None:
        try:
            self.field(match["letter"], match["value"].strip())
        except LinewrightError as error:
            raise self._error(error.message, match, error.accepted) from error


_SILENT: Final = frozenset({"space", "slur", "spacer", "breaks"})
