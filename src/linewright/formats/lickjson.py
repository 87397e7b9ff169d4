"""A lick as JSON, nothing lost: Linewright's own interchange form.

One object with ``"linewright": 1`` (the version of this form). Times are fractions of a quarter
note written as strings (``"3/2"``), pitches scientific names (``"Bb3"``), meters, keys and chords
as people write them (``"6/8"``, ``"A dorian"``, ``"Em7b5"``) or, for the few values whose plain
text would not read back the same, as objects. Fields left out take their defaults; fields that
do not belong are refused, since dropping them would lose something without a word.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from fractions import Fraction
from typing import Any, Final

from linewright.errors import MusicError, ReadError
from linewright.formats.jsonfields import Fields, invalid
from linewright.formats.limits import check_size
from linewright.score import (
    Bar,
    ChordSpan,
    Grace,
    Instrument,
    Lick,
    Mark,
    Meter,
    Note,
    Tempo,
    bars_from_lengths,
)
from linewright.theory import ChordSymbol, Key, Pitch, PitchClass

__all__ = ["VERSION", "lick_from_dict", "lick_to_dict", "read_json", "write_json"]

#: Version of the form; a reader refuses a later one.
VERSION: Final = 1
_ACCEPTED: Final = 'A lick is an object with "linewright": 1, "bars" and "notes"'


# -- writing -----------------------------------------------------------------------------
def lick_to_dict(lick: Lick) -> dict[str, Any]:
    """A lick as plain JSON values.

    >>> from linewright.score import bars_for
    >>> lick = Lick((), bars_for(Meter(3, 4), Fraction(3)))
    >>> lick_to_dict(lick)["bars"]
    [{'number': 1, 'duration': '3', 'meter': '3/4'}]
    """
    return _without_none(
        {
            "linewright": VERSION,
            "title": lick.title,
            "style": lick.style,
            "source": lick.source,
            "tags": list(lick.tags) or None,
            "spelled": None if lick.spelled else False,
            "tempo": lick.tempo and {"bpm": str(lick.tempo.bpm), "beat": str(lick.tempo.beat)},
            "swing": None if lick.swing is None else str(lick.swing),
            "instrument": lick.instrument and _instrument_out(lick.instrument),
            "bars": [_bar_out(bar) for bar in lick.bars],
            "chords": [_chord_out(span) for span in lick.chords] or None,
            "notes": [_note_out(note) for note in lick.notes],
            "remarks": list(lick.remarks) or None,
        }
    )


def write_json(lick: Lick) -> str:
    """A lick as JSON text, indented, ending in a newline."""
    return json.dumps(lick_to_dict(lick), ensure_ascii=False, indent=1) + "\n"


def _without_none(fields: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in fields.items() if value is not None}


def _plain_or_object(value: Any, text: str, parse: Callable[[str], Any], whole: Any) -> Any:
    """The text form when it reads back as the same value, else the object form."""
    try:
        return text if parse(text) == value else whole
    except MusicError:
        return whole


def _instrument_out(instrument: Instrument) -> dict[str, Any]:
    return {
        "name": instrument.name,
        "strings": [pitch.name for pitch in instrument.strings],
        "tuning": instrument.tuning,
        "frets": instrument.frets,
        "capo": instrument.capo,
        "short": [list(pair) for pair in instrument.short],
        "courses": instrument.courses,
    }


def _bar_out(bar: Bar) -> dict[str, Any]:
    meter, key = bar.meter, bar.key
    whole_meter = {
        "numerator": meter.numerator,
        "denominator": meter.denominator,
        "groups": list(meter.groups),
    }
    return _without_none(
        {
            "number": bar.number,
            "duration": str(bar.duration),
            "meter": _plain_or_object(meter, meter.text, Meter.parse, whole_meter),
            "key": None
            if key is None
            else _plain_or_object(
                key,
                key.name,
                Key.parse,
                {
                    "tonic": key.tonic.name,
                    "mode": key.mode,
                    "added": [note.name for note in key.added],
                },
            ),
        }
    )


def _chord_out(span: ChordSpan) -> dict[str, Any]:
    symbol = span.symbol
    fields: dict[str, Any] = {"onset": str(span.onset), "duration": str(span.duration)}
    if symbol is None:
        return fields | {"symbol": None}
    whole = _without_none(
        {
            "root": symbol.root.name,
            "quality": symbol.quality,
            "bass": symbol.bass and symbol.bass.name,
        }
    )
    return fields | {"symbol": _plain_or_object(symbol, symbol.text, ChordSymbol.parse, whole)}


def _note_out(note: Note) -> dict[str, Any]:
    return _without_none(
        {
            "onset": str(note.onset),
            "duration": str(note.duration),
            "pitch": note.pitch.name,
            "string": note.string,
            "fret": note.fret,
            "marks": [
                {"name": m.name, "semitones": str(m.semitones)} if m.semitones else m.name
                for m in note.marks
            ]
            or None,
            "grace": [
                _without_none({"pitch": g.pitch.name, "string": g.string, "fret": g.fret})
                for g in note.grace
            ]
            or None,
        }
    )


# -- reading -----------------------------------------------------------------------------
def read_json(text: str | bytes) -> Lick:
    """Read a lick from JSON text; raises ReadError naming the line, or the field at fault."""
    check_size(text)
    try:
        value = json.loads(text, parse_constant=_no_constant)
    except json.JSONDecodeError as error:
        raise ReadError(
            f"this is not JSON: {error.msg}",
            line=error.lineno,
            column=error.colno,
            accepted=_ACCEPTED,
        ) from error
    except UnicodeDecodeError as error:
        raise ReadError(
            f"byte {error.start} is not {error.encoding.upper()} text", accepted="Save it as UTF-8"
        ) from error
    except RecursionError as error:
        raise ReadError("the JSON is nested too deeply", accepted=_ACCEPTED) from error
    except ValueError as error:  # NaN, or a number of thousands of digits
        raise ReadError(
            f"the JSON holds a number that cannot be used ({error})",
            accepted='Write a fraction in quotes, as in "3/2"',
        ) from error
    return lick_from_dict(value)


def _no_constant(name: str) -> Any:
    raise ValueError(f"{name} is not a JSON number")


def lick_from_dict(value: Any) -> Lick:
    """A lick from JSON values as :func:`lick_to_dict` gives them.

    Raises ReadError whose ``place`` is the path of the field at fault, as ``notes[3].pitch``.
    """
    if not isinstance(value, dict) or "linewright" not in value:
        raise ReadError("this JSON is not a lick", accepted=_ACCEPTED)
    if value["linewright"] != VERSION or isinstance(value["linewright"], bool):
        raise ReadError(
            f"the lick is written in version {value['linewright']!r:.40} of the form",
            place="linewright",
            accepted=f"This Linewright reads version {VERSION}; a later one may be needed",
        )
    top = Fields(value, "")
    top.skip("linewright")
    bars = [_bar_in(fields) for fields in top.objects("bars", required=True)]
    laid = bars_from_lengths([bar[1:] for bar in bars])
    parts: dict[str, Any] = {
        "notes": tuple(_note_in(fields) for fields in top.objects("notes", required=True)),
        "bars": tuple(
            Bar(number, bar.onset, bar.duration, bar.meter, bar.key)
            for (number, *_), bar in zip(bars, laid, strict=True)
        ),
        "chords": tuple(_chord_in(fields) for fields in top.objects("chords")),
        "title": top.text("title", "Untitled"),
        "tempo": _tempo_in(top.object("tempo")),
        "instrument": _instrument_in(top.object("instrument")),
        "swing": top.optional_fraction("swing"),
        "style": top.optional_text("style"),
        "source": top.optional_text("source"),
        "tags": tuple(top.texts("tags")),
        "spelled": top.flag("spelled", True),
        "remarks": tuple(top.texts("remarks")),
    }
    top.done()
    try:
        return Lick(**parts)
    except MusicError as error:
        raise ReadError(
            f"the lick contradicts itself: {error.message}",
            accepted=error.accepted,
            place=error.place,
        ) from error


def _bar_in(fields: Fields) -> tuple[int, Fraction, Meter, Key | None]:
    meter = fields.value("meter", Meter.parse, _meter_object)
    key = fields.value("key", Key.parse, _key_object, optional=True)
    duration = fields.fraction("duration", default=meter.length)
    if duration <= 0:
        raise invalid(fields.at("duration"), str(duration), "A bar lasts more than 0 quarters")
    bar = (fields.integer("number"), duration, meter, key)
    fields.done()
    return bar


def _meter_object(fields: Fields) -> Meter:
    return Meter(
        fields.integer("numerator"),
        fields.integer("denominator"),
        tuple(fields.integers("groups")),
    )


def _key_object(fields: Fields) -> Key:
    return Key(
        PitchClass.parse(fields.text("tonic")),
        fields.text("mode", "major"),
        tuple(PitchClass.parse(name) for name in fields.texts("added")),
    )


def _chord_in(fields: Fields) -> ChordSpan:
    symbol = fields.value("symbol", ChordSymbol.parse, _symbol_object, optional=True)
    span = ChordSpan(fields.fraction("onset"), fields.fraction("duration"), symbol)
    fields.done()
    return span


def _symbol_object(fields: Fields) -> ChordSymbol:
    bass = fields.optional_text("bass")
    return ChordSymbol(
        PitchClass.parse(fields.text("root")),
        fields.text("quality", ""),
        None if bass is None else PitchClass.parse(bass),
    )


def _note_in(fields: Fields) -> Note:
    note = fields.build(
        Note,
        fields.fraction("onset"),
        fields.fraction("duration"),
        fields.value("pitch", Pitch.parse),
        fields.optional_integer("string"),
        fields.optional_integer("fret"),
        tuple(fields.items("marks", Mark, _mark_object)),
        tuple(_grace_in(item) for item in fields.objects("grace")),
    )
    fields.done()
    return note


def _mark_object(fields: Fields) -> Mark:
    mark = fields.build(Mark, fields.text("name"), fields.fraction("semitones", Fraction(0)))
    fields.done()
    return mark


def _grace_in(fields: Fields) -> Grace:
    grace = Grace(
        fields.value("pitch", Pitch.parse),
        fields.optional_integer("string"),
        fields.optional_integer("fret"),
    )
    fields.done()
    return grace


def _tempo_in(fields: Fields | None) -> Tempo | None:
    if fields is None:
        return None
    tempo = fields.build(Tempo, fields.fraction("bpm"), fields.fraction("beat", Fraction(1)))
    fields.done()
    return tempo


def _instrument_in(fields: Fields | None) -> Instrument | None:
    if fields is None:
        return None
    instrument = fields.build(
        Instrument,
        fields.text("name"),
        tuple(fields.items("strings", Pitch.parse, required=True)),
        fields.text("tuning", "standard"),
        fields.integer("frets", 20),
        fields.integer("capo", 0),
        tuple(fields.pairs("short")),
        fields.integer("courses", 1),
    )
    fields.done()
    return instrument
