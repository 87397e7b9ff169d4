"""How a text or a file is to be read, from the fields of a form."""

from __future__ import annotations

import re
from typing import Any, Final, Literal

from linewright.errors import OptionError
from linewright.formats import ReadOptions
from linewright.fretboard import INSTRUMENTS, parse_instrument
from linewright.score import Instrument
from linewright.web.forms import Fields

__all__ = ["FIELDS", "choices_of", "octave_of", "offered", "options_of"]

_KINDS: Final = (
    "part", "voice", "track", "tune", "grid", "bars", "instrument", "tuning", "capo", "octave",
)  # fmt: skip
#: Those that have a field of their own on the pages; the others are carried along.
FIELDS: Final = ("bars", "instrument", "tuning", "capo", "octave")
_OCTAVES: Final = (
    ("", "as written"), ("guitar", "an octave lower: guitar music in the treble clef"),
)  # fmt: skip


def offered() -> dict[str, Any]:
    """What a page's fields for reading have to choose from."""
    return {"instruments": list(INSTRUMENTS), "octaves": _OCTAVES}


def choices_of(form: Fields) -> dict[str, str]:
    """The choices a form makes, without those left open."""
    return {name: form.text(name).strip() for name in _KINDS if form.text(name).strip()}


def options_of(choices: dict[str, str]) -> ReadOptions:
    """Choices as a reader takes them; OptionError or MusicError for one that cannot be."""
    bars = None
    if "bars" in choices:
        match = re.fullmatch(r"\s*(\d{1,4})\s*(?:-|–|to)\s*(\d{1,4})\s*", choices["bars"])
        if match is None:
            raise OptionError(
                f"{choices['bars']!r:.40} is not a span of bars", accepted="Write it as 1-4"
            )
        bars = (int(match[1]), int(match[2]))
    return ReadOptions(
        tune=_number(choices, "tune"),
        part=choices.get("part"),
        voice=choices.get("voice"),
        track=_number(choices, "track"),
        grid=choices.get("grid"),
        bars=bars,
        instrument=_instrument(choices),
        octave=octave_of(choices.get("octave", "written")),
    )


def octave_of(way: str) -> Literal["written", "guitar"]:
    """Which way ABC and MusicXML sound."""
    if way not in ("written", "guitar"):
        raise OptionError(f"{way!r:.40} for the octave", accepted="Use written or guitar")
    return "guitar" if way == "guitar" else "written"


def _instrument(choices: dict[str, str]) -> Instrument | None:
    """The instrument asked for, or None to leave it to the file."""
    if not any(name in choices for name in ("instrument", "tuning", "capo")):
        return None
    return parse_instrument(
        choices.get("instrument"), choices.get("tuning"), _number(choices, "capo") or 0
    )


def _number(choices: dict[str, str], name: str) -> int | None:
    """The number an option begins with."""
    if name not in choices:
        return None
    match = re.match(r"\s*(\d{1,6})", choices[name])
    if match is None:
        raise OptionError(f"{choices[name]!r:.40} is not the number of a {name}")
    return int(match[1])
