"""Read one tune of ABC into a lick."""

from __future__ import annotations

from fractions import Fraction

from linewright.errors import ChoiceNeeded, LinewrightError, MusicError, OptionError, ReadError
from linewright.formats.abc.body import BodyReader
from linewright.formats.abc.book import BookTune, Field, Segment, Tune, lay_out, split_book
from linewright.formats.abc.build import lay
from linewright.formats.abc.events import Change, Remarks, Sound
from linewright.formats.abc.header import (
    KeyField,
    default_unit,
    read_key,
    read_meter,
    read_tempo,
    read_unit,
    settings,
)
from linewright.formats.abc.text import unescape
from linewright.formats.abc.unfold import Repeats, unfold
from linewright.formats.abc.vocabulary import user_sign
from linewright.score import Lick, Meter, Tempo
from linewright.theory import Interval

__all__ = ["read_abc"]

#: Letter steps of a chromatic transposition, by semitones within the octave.
_STEPS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


def read_abc(
    text: str,
    *,
    tune: int | None = None,
    voice: str | None = None,
    repeats: Repeats = "once",
) -> Lick:
    r"""Read a tune written in ABC 2.1, lenient where old collections are.

    Parameters
    ----------
    text : str
        A tune, or a collection of tunes.
    tune : int, optional
        X: number of the tune to read; needed when there are several.
    voice : str, optional
        Which voice to read; needed when there are several.
    repeats : {"once", "play"}
        ``once`` gives every strain once with its last ending, ``play`` the tune as it is played.

    Returns
    -------
    Lick
        Its ``remarks`` say what had to be decided or left out, with line and column.

    Raises
    ------
    ChoiceNeeded
        Several tunes or voices and none named.
    ReadError
        The text is not ABC music, with line and column.
    TooLarge
        The text passes 8,000,000 characters, or one tune passes 400,000.

    Examples
    --------
    >>> lick = read_abc("X:1\nM:4/4\nK:G\nGABc dedB|")
    >>> " ".join(str(n.pitch) for n in lick.notes)
    'G4 A4 B4 C5 D5 E5 D5 B4'
    """
    if repeats not in ("once", "play"):
        raise OptionError(f"repeats cannot be {repeats!r}", accepted="Use once or play")
    chosen = _choose_tune(split_book(text), tune)
    laid_out = lay_out(chosen.text, chosen.first_line)
    body = _choose_voice(laid_out, voice, chosen.first_line)
    return _Reading(laid_out, body, chosen.first_line).lick(repeats)


def _choose_tune(tunes: tuple[BookTune, ...], number: int | None) -> BookTune:
    if not tunes:
        raise ReadError("the text is empty", accepted="An ABC tune starts with X:1 and K:G")
    if number is None:
        if len(tunes) > 1:
            listed = "; ".join(f"{t.number} {t.title}" for t in tunes[:5])
            raise ChoiceNeeded(
                f"the text holds {len(tunes)} tunes",
                kind="tune",
                options=tuple(str(t.number) for t in tunes),
                accepted=f"Name one by its X: number: {listed}" + ("; ..." if tunes[5:] else ""),
            )
        return tunes[0]
    for found in tunes:
        if found.number == number:
            return found
    numbers = ", ".join(str(t.number) for t in tunes[:12]) + (", ..." if tunes[12:] else "")
    raise OptionError(f"there is no tune {number}", accepted=f"The text has {numbers}")


def _choose_voice(tune: Tune, voice: str | None, line: int) -> list[Field | Segment]:
    sounding = [v for v, body in tune.voices.items() if any(isinstance(p, Segment) for p in body)]
    if not sounding:
        raise ReadError(
            "the tune has no music after its K: line",
            line=line,
            accepted="Write the notes on the lines after K:",
        )
    if voice is not None:
        for name in sounding:
            if voice in (name, tune.names.get(name)):
                return tune.voices[name]
        raise OptionError(f"there is no voice {voice!r}", accepted=f"Use {', '.join(sounding)}")
    if len(sounding) > 1:
        listed = ", ".join(f"{v} ({tune.names[v]})" if v in tune.names else v for v in sounding)
        raise ChoiceNeeded(
            f"the tune has {len(sounding)} voices",
            kind="voice",
            options=tuple(sounding),
            accepted=f"Name one: {listed}",
        )
    return tune.voices[sounding[0]]


class _Reading:
    """One tune on its way to a lick."""

    def __init__(self, tune: Tune, body: list[Field | Segment], first_line: int) -> None:
        self.tune, self.body, self.first_line = tune, body, first_line
        self.remarks = Remarks()
        for message, line in tune.remarks:
            self.remarks.add(message, line)
        self.meter: Meter | None = None
        self.unit = Fraction(1, 2)
        self.key = KeyField(None, {})
        self.tempo: Tempo | None = None
        self.user: dict[str, str] = {}
        self._read_header()

    def _read_header(self) -> None:
        unit: Fraction | None = None
        tempo: Field | None = None
        for entry in self.tune.header:
            try:
                if entry.letter == "M":
                    self.meter = read_meter(entry.value)
                elif entry.letter == "L":
                    unit = read_unit(entry.value)
                elif entry.letter == "K":
                    self.key = read_key(entry.value)
                elif entry.letter == "U":
                    self.user.update(user_sign(entry.value))
                elif entry.letter == "Q":
                    tempo = entry
            except LinewrightError as error:
                raise ReadError(error.message, line=entry.line, accepted=error.accepted) from error
        self.unit = unit or default_unit(self.meter)
        if self.key.remark:
            self.remarks.add(self.key.remark, self.tune.header[-1].line)
        if tempo is not None:
            self.tempo, remark = read_tempo(tempo.value, self.unit)
            if remark:
                self.remarks.add(remark, tempo.line)

    def lick(self, repeats: Repeats) -> Lick:
        """The tune as a lick."""
        octaves, semitones = self._voice_settings()
        key = KeyField(
            self.key.key, self.key.alters, True, self.key.octaves + octaves,
            self.key.semitones + semitones,
        )  # fmt: skip
        reader = BodyReader(
            self.meter, self.unit, key, propagate=self._propagate(), user=self.user,
            remarks=self.remarks,
        )  # fmt: skip
        reader.read(self.body)
        sounds = sum(isinstance(e, Sound) and bool(e.tones) for e in reader.events)
        self._refuse_prose(sounds, reader.strays)
        events, repeated = unfold(
            [Change(self.meter or Meter(4, 4), self.key.key), *reader.events],
            repeats,
            self._parts(),
        )
        if repeated and repeats == "once":
            self.remarks.add("repeated strains are given once, with their last ending")
        free = self.meter is None
        if free:
            self.remarks.add("no meter is given: bars are as written, counted in 4/4")
        meter = self.meter or Meter(4, 4)
        try:
            laid = lay(events, meter, self.key.key, self.remarks, free=free)
            lick = Lick(
                laid.notes,
                laid.bars,
                laid.chords,
                title=self._text("T") or "Untitled",
                tempo=reader.tempo or self.tempo,
                style=self._text("R"),
                source=self._source(),
                remarks=self.remarks.texts(),
            )
            if reader.semitones:
                lick = lick.transpose(_interval(reader.semitones))
        except MusicError as error:
            raise ReadError(str(error), line=self.first_line) from error
        return lick

    def _refuse_prose(self, sounds: int, strays: int) -> None:
        line = next((p.line for p in self.body if isinstance(p, Segment)), self.first_line)
        if not sounds:
            raise ReadError(
                "there are no notes here", line=line, accepted="Notes are letters A to G and a to g"
            )
        if strays > 12 and strays > sounds:
            raise ReadError(
                f"this does not read as music: {strays} signs mean nothing against {sounds} notes",
                line=line,
                accepted="Check that the text is ABC",
            )

    def _voice_settings(self) -> tuple[int, int]:
        voice = next((v for v, body in self.tune.voices.items() if body is self.body), None)
        octaves = semitones = 0
        for entry in self.tune.header:
            words = entry.value.split(None, 1)
            if entry.letter == "V" and len(words) == 2 and words[0] == voice:
                octaves, semitones, _ = settings(words[1])
        return octaves, semitones

    def _propagate(self) -> str:
        for name, value in self.tune.directives:
            if name == "propagate-accidentals" and value in ("not", "octave", "pitch"):
                return value
        return "pitch"

    def _parts(self) -> str | None:
        return next((f.value for f in self.tune.header if f.letter == "P"), None)

    def _text(self, letter: str) -> str | None:
        for entry in self.tune.header:
            if entry.letter == letter and entry.value.strip():
                return unescape(entry.value).strip()
        return None

    def _source(self) -> str | None:
        """Book and source as given; a note that is only a number is the number in the book."""
        parts = [t for t in (self._text("B"), self._text("S")) if t]
        note = self._text("N")
        if parts and note and note.isdigit():
            parts[0] += f", no. {note}"
        return "; ".join(parts) or None


def _interval(semitones: int) -> Interval:
    octaves, rest = divmod(semitones, 12)
    return Interval(7 * octaves + _STEPS[rest], semitones)
