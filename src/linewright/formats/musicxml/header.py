"""What a score says about itself: title, source, tempo, swing, instrument, style and tags."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError
from linewright.fretboard import parse_instrument
from linewright.score import Instrument, Tempo
from linewright.theory import Pitch

__all__ = ["BEAT_UNITS", "Header", "read_header", "read_instrument"]

#: Note type -> length in quarters (MusicXML 4.0, note-type-value).
BEAT_UNITS: Final[dict[str, Fraction]] = {
    "breve": Fraction(8), "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1),
    "eighth": Fraction(1, 2), "16th": Fraction(1, 4), "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16), "128th": Fraction(1, 32), "256th": Fraction(1, 64),
}  # fmt: skip
_DECIMAL_RE: Final = re.compile(r"\d{1,4}(?:\.\d{1,6})?", re.ASCII)


@dataclass(frozen=True)
class Header:
    """Fields of a :class:`linewright.score.Lick` that stand at the head of a score."""

    title: str
    source: str | None
    style: str | None
    tags: tuple[str, ...]
    spelled: bool
    tempo: Tempo | None
    swing: Fraction | None


def read_header(root: ET.Element) -> Header:
    """Read the head of a ``score-partwise``; what makes no sense there is passed over."""
    fields = {
        item.get("name", ""): _line(item.text)
        for item in root.iterfind("identification/miscellaneous/miscellaneous-field")
    }
    title = (
        _line(root.findtext("work/work-title"))
        or _line(root.findtext("movement-title"))
        or next(
            (
                _line(credit.findtext("credit-words"))
                for credit in root.findall("credit")
                if _line(credit.findtext("credit-type")) == "title"
            ),
            "",
        )
    )
    creators = [_line(c.text) for c in root.iterfind("identification/creator")]
    source = _line(root.findtext("identification/source")) or ", ".join(c for c in creators if c)
    return Header(
        title or "Untitled",
        source or None,
        fields.get("style") or None,
        tuple(tag for tag in fields.get("tags", "").split(",") if tag),
        fields.get("spelled") != "no",
        _tempo(root),
        _swing(root),
    )


def _line(text: str | None) -> str:
    return " ".join((text or "").split())


def _tempo(root: ET.Element) -> Tempo | None:
    for direction in root.iter("direction"):
        metronome = direction.find("direction-type/metronome")
        sound = direction.find("sound")
        found = None if metronome is None else _metronome(metronome)
        if found is None and sound is not None:
            found = _quarters(sound)
        if found is not None:
            return found
    return next((t for t in map(_quarters, root.iter("sound")) if t is not None), None)


def _metronome(element: ET.Element) -> Tempo | None:
    per_minute = _decimal(element.findtext("per-minute"))
    beat = BEAT_UNITS.get((element.findtext("beat-unit") or "").strip())
    if per_minute is None or beat is None or len(element.findall("beat-unit")) != 1:
        return None
    for power in range(min(2, len(element.findall("beat-unit-dot")))):
        beat += beat / (2 + power) if power == 0 else beat / 6
    return _tempo_of(per_minute, beat)


def _quarters(sound: ET.Element) -> Tempo | None:
    return _tempo_of(_decimal(sound.get("tempo")), Fraction(1))


def _tempo_of(bpm: Fraction | None, beat: Fraction) -> Tempo | None:
    try:
        return Tempo(bpm, beat) if bpm else None
    except MusicError:
        return None


def _decimal(text: str | None) -> Fraction | None:
    found = _DECIMAL_RE.search(text or "")
    return Fraction(found[0]) if found else None


def _swing(root: ET.Element) -> Fraction | None:
    for swing in root.iterfind(".//sound/swing"):
        first, second = _decimal(swing.findtext("first")), _decimal(swing.findtext("second"))
        if first and second and first > second:
            return first / second
    return None


# -- instrument --------------------------------------------------------------------------
def read_instrument(
    root: ET.Element, part_name: str, details: ET.Element | None
) -> Instrument | None:
    """The instrument a part's ``staff-details`` tune, or None when they do not."""
    strings = _strings(details)
    if not strings or details is None:
        return None
    capo_text = (details.findtext("capo") or "0").strip()
    capo = int(capo_text) if re.fullmatch(r"\d{1,2}", capo_text, re.ASCII) else 0
    own = _own_note(root, strings, capo)
    if own is not None:
        return own
    listing = " ".join(pitch.name for pitch in reversed(strings))
    for name in (part_name, None):
        try:
            parse_instrument(name)  # is it in the table?
            found = parse_instrument(name, listing, capo)
        except MusicError:
            continue
        if found.strings == tuple(strings):
            return found
    return Instrument(part_name or "instrument", tuple(strings), "custom", 24, min(capo, 12))


def _strings(details: ET.Element | None) -> list[Pitch]:
    """Open strings, string 1 first; MusicXML counts a tablature's lines from the bottom."""
    found: dict[int, Pitch] = {}
    for tuning in () if details is None else details.findall("staff-tuning"):
        step, octave = tuning.findtext("tuning-step"), tuning.findtext("tuning-octave")
        sign = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
        alter = (tuning.findtext("tuning-alter") or "0").strip()
        try:
            name = f"{(step or '').strip()}{sign[int(float(alter))]}{(octave or '').strip()}"
            found[int(tuning.get("line", ""))] = Pitch.parse(name)
        except (ValueError, KeyError, OverflowError, MusicError):
            return []
    return [found[line] for line in sorted(found, reverse=True)] if len(found) <= 12 else []


def instrument_note(instrument: Instrument) -> str:
    """What MusicXML has no element for, as a line for its ``miscellaneous`` fields."""
    return json.dumps(
        {
            "name": instrument.name,
            "tuning": instrument.tuning,
            "frets": instrument.frets,
            "short": [list(pair) for pair in instrument.short],
            "courses": instrument.courses,
        }
    )


def _own_note(root: ET.Element, strings: Sequence[Pitch], capo: int) -> Instrument | None:
    for item in root.iterfind("identification/miscellaneous/miscellaneous-field"):
        if item.get("name") != "instrument":
            continue
        try:
            kept = json.loads(item.text or "")
            made = Instrument(
                str(kept["name"]),
                tuple(strings),
                str(kept["tuning"]),
                int(kept["frets"]),
                0,
                tuple((int(a), int(b)) for a, b in kept["short"]),
                int(kept["courses"]),
            )
            return replace(made, capo=capo)
        except (ValueError, KeyError, TypeError, RecursionError, OverflowError, MusicError):
            return None
    return None
