"""Use case: hear a recording, or a MIDI file, as notes."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

from linewright.errors import ReadError
from linewright.score.performance import PlayedNote
from linewright.theory import spell_midi

if TYPE_CHECKING:
    from linewright.score import Instrument
    from linewright.sound.hearing import Heard

__all__ = ["hear_file", "heard_text"]


def hear_file(
    data: bytes, *, tempo: float | None = None, instrument: Instrument | None = None
) -> Heard:
    """Hear the notes in a file's bytes.

    Parameters
    ----------
    data : bytes
        A recording in any usual format, or a standard MIDI file.
    tempo : float, optional
        Beats a minute, when known.
    instrument : Instrument, optional

    Returns
    -------
    Heard
        What the recording's decoder had to say stands first among the warnings.
    """
    if data[:4] == b"MThd":
        return _from_midi(data)
    from linewright.sound.decode import decode
    from linewright.sound.hearing import hear

    recording = decode(data)
    heard = hear(recording.samples, recording.rate, tempo=tempo, instrument=instrument)
    return replace(heard, warnings=(*recording.warnings, *heard.warnings))


def _from_midi(data: bytes) -> Heard:
    """The notes of the stream with the most notes; a MIDI file needs no listening."""
    from linewright.formats.midi.events import parse
    from linewright.sound.hearing import MAX_SECONDS, Heard

    facts = parse(data)
    if not facts.streams:
        raise ReadError("there are no notes in the MIDI file", accepted="Save one with notes")
    stream = max(facts.streams, key=lambda found: len(found.notes))
    moments = sorted(
        {tick for note in stream.notes for tick in (note.start, note.end)} | {facts.end}
    )
    seconds = _seconds(moments, facts.tempos, facts.ticks)
    if seconds[moments[-1]] > MAX_SECONDS:
        raise ReadError(
            f"the MIDI file lasts {seconds[moments[-1]] / 60:.0f} minutes",
            accepted=f"At most {MAX_SECONDS // 60} minutes are heard",
        )
    notes = sorted(stream.notes, key=lambda note: (note.start, note.key))
    warnings = []
    if len(facts.streams) > 1:
        warnings.append(f"the file has {len(facts.streams)} parts; heard is {stream.name}")
    if sum(a.end > b.start + facts.ticks // 16 for a, b in pairwise(notes)) * 3 > len(notes):
        warnings.append("several notes sound at once in much of the file")
    played = tuple(PlayedNote(seconds[note.start], seconds[note.end], note.key) for note in notes)
    return Heard(played, seconds[moments[-1]], warnings=tuple(warnings))


def _seconds(moments: list[int], tempos: list[tuple[int, int]], ticks: int) -> dict[int, float]:
    """Seconds at each tick, the tempo map followed."""
    out: dict[int, float] = {}
    at, now, length = 0, 0.0, 500_000
    changes = iter([*tempos, (1 << 62, length)])
    change = next(changes)
    for moment in moments:
        while change[0] <= moment:
            now += (change[0] - at) * length / ticks / 1e6
            at, length = change
            change = next(changes)
        now += (moment - at) * length / ticks / 1e6
        at = moment
        out[moment] = now
    return out


def heard_text(heard: Heard) -> str:
    """The notes as a table to read, and what else was noticed."""
    lines = [f"{heard.duration_s:.1f} s, {len(heard.notes)} notes"]
    if heard.notes and abs(heard.tuning_cents) >= 5:
        way = "sharp" if heard.tuning_cents > 0 else "flat"
        lines[0] += f", tuned {abs(heard.tuning_cents):.0f} cents {way}"
    lines += [f"note: {warning}" for warning in heard.warnings]
    if heard.notes:
        lines += ["", "  onset   length  note  cents  strength  attack   sure"]
        for n in heard.notes:
            name = str(spell_midi(n.midi))
            lines.append(
                f"{n.onset_s:7.3f}  {n.offset_s - n.onset_s:7.3f}  {name:4}  {n.cents:+5.0f}"
                f"  {n.strength:8.2f}  {n.attack:7}  {100 * n.confidence:3.0f} %"
            )
    return "\n".join(lines)
