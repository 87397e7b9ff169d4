"""MusicXML in: pick a part and a voice, put what the elements say where music21 says it falls."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass, replace
from fractions import Fraction

from linewright.errors import ChoiceNeeded, MusicError, OptionError, ReadError
from linewright.formats.musicxml.container import score_root
from linewright.formats.musicxml.facts import PartFacts, part_facts
from linewright.formats.musicxml.header import read_header, read_instrument
from linewright.formats.musicxml.repeats import Repeats, bar_order
from linewright.formats.musicxml.timing import Timing, timing
from linewright.formats.musicxml.voices import one_line, placed
from linewright.score import Bar, ChordSpan, Lick

__all__ = ["read_musicxml"]


def read_musicxml(
    data: bytes,
    *,
    part: str | None = None,
    voice: str | None = None,
    repeats: Repeats = "once",
) -> Lick:
    """Read one melodic line from a MusicXML score, plain or compressed (.mxl).

    Parameters
    ----------
    data : bytes
    part : str, optional
        Name, id or number (from 1) of the part, needed when several hold notes.
    voice : str, optional
        The voice, as the error that asks for it names them.
    repeats : str
        ``once`` reads repeated bars once and the last of several endings; ``play`` writes
        everything out as played.

    Raises
    ------
    ReadError
        The bytes are no MusicXML score or break its rules; the message names the measure.
    ChoiceNeeded
        Several parts, or voices that sound over each other; ``options`` names them.
    TooLarge
        A size limit is passed.

    Notes
    -----
    Pitches come out as they sound: a part's ``transpose`` is applied. An octave clef does not
    move pitches in MusicXML; where a file has them an octave above its own strings and frets,
    the places are believed and a remark says so.
    """
    root = score_root(data)
    chosen = _choose_part(root, part)
    facts = part_facts(chosen.element)
    order = bar_order([bar.signs for bar in facts.bars], repeats)
    timed = timing(facts.tree, order)
    remarks = sorted(facts.remarks)
    if chosen.is_only_one_with_notes:
        remarks.append(f"read the part {chosen.name}, the only one with notes")
    if any(bar.signs.backward or bar.signs.passes for bar in facts.bars):
        remarks.append(_repeats_remark(repeats, len(facts.bars) - len(order)))
    notes = one_line(facts, timed, voice, remarks)
    instrument = read_instrument(root, chosen.name, facts.details)
    notes = placed(notes, instrument, remarks)
    bars = _bars(facts, timed)
    header = read_header(root)
    try:
        return Lick(
            tuple(notes),
            bars,
            _chords(facts, timed, bars[-1].end),
            title=header.title,
            tempo=header.tempo,
            instrument=instrument,
            swing=header.swing,
            style=header.style,
            source=header.source,
            tags=header.tags,
            spelled=header.spelled,
            remarks=tuple(remarks),
        )
    except MusicError as error:
        raise ReadError(
            f"the score contradicts itself: {error.message}",
            accepted=error.accepted,
            place=error.place,
        ) from error


# -- parts -------------------------------------------------------------------------------
@dataclass(frozen=True)
class _Part:
    element: ET.Element
    identity: str
    name: str
    is_only_one_with_notes: bool = False


def _choose_part(root: ET.Element, wanted: str | None) -> _Part:
    names = {
        listed.get("id", ""): " ".join((listed.findtext("part-name") or "").split())
        for listed in root.iterfind("part-list/score-part")
    }
    parts = [
        _Part(element, element.get("id", ""), names.get(element.get("id", ""), ""))
        for element in root.findall("part")
    ]
    parts = [replace(p, name=p.name or p.identity or str(i)) for i, p in enumerate(parts, 1)]
    sounding = [p for p in parts if p.element.find("measure/note/pitch") is not None]
    labels = [p.name for p in sounding]
    options = tuple(p.name if labels.count(p.name) == 1 else p.identity or p.name for p in sounding)
    if wanted is not None:
        word = wanted.strip().lower()
        names_of = [(p.identity.lower(), p.name.lower(), str(n)) for n, p in enumerate(parts, 1)]
        for kind in range(3):
            for candidate, known in zip(parts, names_of, strict=True):
                if word == known[kind]:
                    return candidate
        raise OptionError(
            f"the score has no part {wanted!r:.60}",
            accepted=f"Its parts are {', '.join(options[:20]) or 'without notes'}",
        )
    if not sounding:
        raise ReadError(
            "the score holds no notes with a pitch", accepted="A part that plays a tune is expected"
        )
    if len(sounding) > 1:
        raise ChoiceNeeded(
            f"the score has {len(sounding)} parts",
            kind="part",
            options=options,
            accepted=f"Pick one: {', '.join(options[:20])}",
        )
    return replace(sounding[0], is_only_one_with_notes=len(parts) > 1)


# -- bars and chords ---------------------------------------------------------------------
def _bars(facts: PartFacts, timed: Timing) -> tuple[Bar, ...]:
    first = timed.bars[0]
    raw = facts.bars[first.written]
    short = first.duration < raw.meter.length
    pickup = short and (raw.is_implicit or len(timed.bars) > 1)
    return tuple(
        Bar(
            number,
            bar.onset,
            bar.duration,
            facts.bars[bar.written].meter,
            facts.bars[bar.written].key,
        )
        for number, bar in enumerate(timed.bars, start=0 if pickup else 1)
    )


def _chords(facts: PartFacts, timed: Timing, end: Fraction) -> tuple[ChordSpan, ...]:
    at = {onset: facts.harmonies[number] for onset, number in timed.chords if 0 <= onset < end}
    onsets = sorted(at)
    return tuple(
        ChordSpan(onset, stop - onset, at[onset])
        for onset, stop in zip(onsets, [*onsets[1:], end], strict=False)
    )


def _repeats_remark(repeats: Repeats, skipped: int) -> str:
    if repeats == "play":
        return "repeats were written out as played"
    if skipped:
        return f"repeats were read once, with the last ending ({skipped} bars left out)"
    return "repeats were read once"
