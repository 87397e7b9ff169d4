"""The music of one voice, read sign by sign into events.

Accidentals hold to the end of the bar for the same letter in every octave, the standard's
default (ABC 2.1, 11.3) and what abc2midi plays; ``%%propagate-accidentals`` changes it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from functools import lru_cache
from typing import Final

from linewright.errors import LinewrightError, MusicError, ReadError, TooLarge
from linewright.formats.abc.book import Field, Segment
from linewright.formats.abc.events import (
    BarSign,
    Change,
    Ending,
    Event,
    Harmony,
    Part,
    Remarks,
    Sound,
    Tone,
)
from linewright.formats.abc.header import (
    KeyField,
    read_key,
    read_meter,
    read_tempo,
    read_unit,
    settings,
)
from linewright.formats.abc.scanner import GRACE_NOTE, TOKEN, length_of
from linewright.formats.abc.vocabulary import DECORATIONS, SHORT, mark_of_annotation
from linewright.score import Mark, Meter, Tempo
from linewright.theory import ChordSymbol, Key, Pitch
from linewright.theory.chords import NO_CHORD

__all__ = ["BodyReader"]

_ALTER: Final = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
_MUSIC_ONLY: Final = re.compile(r"[A-Ga-gz0-9,'/<>.()^_=\-]+")
_FREE_METER: Final = Meter(4, 4)
#: Events one voice may have, and measures one rest may fill.
_MAX_EVENTS: Final = 60_000
_MAX_REST: Final = 200
_PARTS: Final = {1: 2, 2: 4, 3: 8}


@lru_cache(maxsize=1024)
def _pitch(step: str, alter: int, octave: int) -> Pitch:
    return Pitch(step, alter, octave)


class BodyReader:
    """Reads the body of one voice; ``events`` holds what was found.

    Parameters
    ----------
    meter : Meter or None
        In force at the start; None for free meter.
    unit : Fraction
        Unit note length in quarters.
    key : KeyField
    propagate : str
        How far an accidental holds: ``pitch``, ``octave`` or ``not``.
    user : dict
        Decoration names of single letters set by U: fields.
    remarks : Remarks
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
        self.events: list[Event] = []
        self.tempo: Tempo | None = None
        self.strays = 0
        self.semitones = key.semitones
        self._meter = meter
        self._unit = unit
        self._key: Key | None = key.key
        self._alters = key.alters
        self._octaves = key.octaves
        self._propagate = propagate
        self._decorations = {**SHORT, **user}
        self._remarks = remarks
        self._bar_alters: dict[object, int] = {}
        self._tied: dict[tuple[str, int], int] = {}  # accidentals a tie carries to the next sound
        self._marks: list[Mark] = []
        self._graces: tuple[Pitch, ...] = ()
        self._chord: Sound | None = None
        self._factor: Fraction | None = None  # what broken rhythm does to the next sound
        self._last: Sound | None = None
        self._tuplet: tuple[Fraction, int] | None = None
        self._overlay = False
        self._outer: list[Mark] = []  # decorations before an open chord
        self._line = 0
        self._before = 0
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
            "plus": self._old_decoration,
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

    def _error(self, message: str, match: re.Match[str], accepted: str | None = None) -> ReadError:
        return ReadError(
            message, line=self._line, column=self._before + match.start() + 1, accepted=accepted
        )

    def _remark(self, message: str, match: re.Match[str] | None = None) -> None:
        column = self._before + match.start() + 1 if match is not None else 0
        self._remarks.add(message, self._line, column)

    def _append(self, event: Event) -> None:
        if len(self.events) >= _MAX_EVENTS:
            raise TooLarge(
                f"the tune has more than {_MAX_EVENTS:,} notes and signs", line=self._line
            )
        self.events.append(event)

    # -- notes ---------------------------------------------------------------------------
    def _sounding(self, match: re.Match[str]) -> Pitch:
        """The pitch of a note sign, bar-long and tied accidentals applied."""
        sign, letter, marks = match["acc"], match["step"], match["oct"]
        step = letter.upper()
        octave = (4 if letter == step else 5) + self._octaves
        if marks:
            octave += marks.count("'") - marks.count(",")
        held: object = step if self._propagate == "pitch" else (step, octave)
        if sign:
            alter = _ALTER[sign]
            if self._propagate != "not":
                self._bar_alters[held] = alter
        elif (step, octave) in self._tied:
            alter = self._tied[step, octave]
        else:
            alter = self._bar_alters.get(held, self._alters.get(step, 0))
        return _pitch(step, alter, octave)

    def _note(self, match: re.Match[str]) -> None:
        pitch = self._sounding(match)
        numerator, denominator = length_of(match["len"])
        if self._chord is not None:
            tone = Tone(pitch, tuple(dict.fromkeys(self._marks)))
            self._marks = []
            if not self._chord.tones:
                self._chord.duration = Fraction(numerator, denominator)
            elif self._chord.duration != Fraction(numerator, denominator):
                self._remark("notes struck together all take the length of the first", match)
            if len(self._chord.tones) < 24:
                self._chord.tones.append(tone)
            return
        if numerator == 0:
            self._remark("a note of no length was left out", match)
            return
        duration = (
            self._unit * numerator
            if denominator == 1
            else (self._unit * Fraction(numerator, denominator))
        )
        self._sound([Tone(pitch)], duration, match)

    def _rest(self, match: re.Match[str]) -> None:
        numerator, denominator = length_of(match["restlen"])
        if self._chord is not None:
            self._remark("a rest inside a chord was left out", match)
        elif numerator:
            self._sound([], self._unit * Fraction(numerator, denominator), match)

    def _whole_bars(self, match: re.Match[str]) -> None:
        count = int(match["count"] or 1)
        if not 1 <= count <= _MAX_REST:
            raise self._error(f"a rest of {count} bars", match, f"Use 1 to {_MAX_REST}")
        length = (self._meter or _FREE_METER).length
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
        if self._tied:
            self._tied = {}
        self._append(self._last)

    def _grace(self, match: re.Match[str]) -> None:
        found = []
        for note in GRACE_NOTE.finditer(match["inner"]):
            found.append(self._sounding(note))
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
            self._tied = {
                (t.pitch.step, t.pitch.octave): t.pitch.alter for t in self._last.tones if t.tied
            }

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
        numerator, denominator = length_of(match["chordlen"])
        duration = self._unit * chord.duration * Fraction(numerator, denominator)
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
        p = int(match["p"])
        if p > 9 and match["q"] is None:  # not the short form: a slur and stray figures
            self._stray(match)
            return
        odd = 3 if self._meter is not None and self._meter.is_compound else 2
        q = int(match["q"] or 0) or {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}.get(p, odd)
        r = int(match["r"] or 0) or p
        if not (2 <= p <= 16 and 1 <= q <= 16 and r <= 64):
            raise self._error(f"there is no tuplet of {p} in the time of {q}", match, "Use 2 to 16")
        self._tuplet = (Fraction(q, p), r)

    def _broken(self, match: re.Match[str]) -> None:
        if self._last is None or self._chord is not None:
            self._remark("a broken-rhythm sign with no note before it was left out", match)
            return
        parts = _PARTS[len(match[0])]
        long, short = Fraction(2 * parts - 1, parts), Fraction(1, parts)
        first, second = (long, short) if match[0][0] == ">" else (short, long)
        self._last.duration *= first
        self._factor = second
        if self._last.duration.denominator > 1 << 16:
            raise self._error("broken rhythm has made a note too short to write", match)

    # -- bar lines and endings -----------------------------------------------------------
    def _bar(self, match: re.Match[str]) -> None:
        self._end_chord(match)
        sign = match["bar"]
        self._overlay = False
        self._bar_alters = {}
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
            self._append(Ending(_numbers(match["barend"])))

    def _ending(self, match: re.Match[str]) -> None:
        self._end_chord(match)
        self._append(Ending(_numbers(match["numbers"])))

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
        chord = _chord(symbol)
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
        name = match["name"]
        if name not in DECORATIONS and _MUSIC_ONLY.fullmatch(name):
            return match.start() + 1  # two old line-break signs with music between them
        self._mark(name, match)
        return None

    def _old_decoration(self, match: re.Match[str]) -> int | None:
        name = match["oldname"]
        if name in DECORATIONS or not _MUSIC_ONLY.fullmatch(name):
            self._mark(name, match)
            return None
        notes = list(GRACE_NOTE.finditer(name))
        if len(notes) < 2 or self._chord is not None:  # a stray plus sign
            self._stray(match)
            return match.start() + 1
        numerator, denominator = length_of(notes[0]["len"])  # +CEG+, the chords of old ABC
        tones = [Tone(self._sounding(note)) for note in notes]
        self._sound(tones, self._unit * Fraction(numerator or 1, denominator), match)
        return None

    def _stray(self, match: re.Match[str]) -> None:
        self.strays += 1
        self._remark(f"{match[0]!r} means nothing here and was left out", match)

    # -- fields --------------------------------------------------------------------------
    def _inline(self, match: re.Match[str]) -> None:
        try:
            self.field(match["letter"], match["value"].strip())
        except LinewrightError as error:
            raise self._error(error.message, match, error.accepted) from error

    def field(self, letter: str, value: str) -> None:
        """Apply a field in the body: K:, M:, L:, Q:, V:, U: change the music, others pass."""
        try:
            if letter == "L":
                self._unit = read_unit(value)
            elif letter == "M":
                self._meter = read_meter(value)
                self._append(Change(self._meter or _FREE_METER, self._key))
            elif letter == "K":
                self._set_key(read_key(value))
            elif letter == "Q":
                tempo, remark = read_tempo(value, self._unit)
                if not any(isinstance(e, Sound) for e in self.events[:50]):
                    self.tempo = tempo or self.tempo
                elif tempo is not None and tempo != self.tempo:
                    remark = "a change of tempo was left out"
                if remark:
                    self._remark(remark)
            elif letter == "V":
                octaves, semitones, _ = settings(value)
                self._octaves = octaves or self._octaves
                self.semitones = semitones or self.semitones
            elif letter == "P":
                self._append(Part(value))
            elif letter == "U":
                self._decorations.update(user_sign(value))
        except LinewrightError as error:
            if error.line is not None:
                raise
            raise ReadError(error.message, line=self._line, accepted=error.accepted) from error

    def _set_key(self, found: KeyField) -> None:
        if found.remark:
            self._remark(found.remark)
        self._octaves = found.octaves or self._octaves
        if not found.has_key:
            return
        self._octaves = found.octaves
        self._key, self._alters = found.key, found.alters
        self._bar_alters = {}
        self._append(Change(self._meter or _FREE_METER, self._key))


def user_sign(value: str) -> dict[str, str]:
    """What a U: field sets: one letter, a decoration's name."""
    letter, _, meaning = value.partition("=")
    letter, meaning = letter.strip(), meaning.strip().strip("!+")
    return {letter: meaning} if len(letter) == 1 and meaning else {}


def _numbers(text: str) -> frozenset[int]:
    found: set[int] = set()
    for part in text.replace(".", ",").split(","):
        first, _, last = part.partition("-")
        if first:
            low, high = int(first), int(last or first)
            found.update(range(low, min(high, low + 16) + 1))
    return frozenset(n for n in found if 1 <= n <= 16) or frozenset({1})


@lru_cache(maxsize=512)
def _chord(text: str) -> ChordSymbol | None:
    try:
        return ChordSymbol.parse(text)
    except MusicError:
        return None


_SILENT: Final = frozenset({"space", "slur", "spacer", "breaks"})
