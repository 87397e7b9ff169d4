"""The analysis in plain words: what a teacher would read out."""

from __future__ import annotations

from linewright.analysis.model import Analysis
from linewright.analysis.reasons import join_words
from linewright.score import Lick

__all__ = ["describe"]


def describe(analysis: Analysis, *, rivals: int = 4) -> str:
    """The analysis as text, one thought a line, the readings as an argument.

    Parameters
    ----------
    analysis : Analysis
    rivals : int
        How many near rivals to argue with.
    """
    lick = analysis.lick
    lines = [lick.title, _facts(lick), ""]
    lines.append(analysis.verdict)
    lines.append(f"Tonic: {analysis.tonic}, because {analysis.tonic_reason}.")
    near = analysis.rivals[:rivals]
    if near:
        lines += ["", "Why not its neighbours"]
        lines += [f"  - {_capital(reading.reason)}." for reading in near]
    if analysis.outside_notes:
        lines += ["", "Outside notes"]
        for note in analysis.outside_notes:
            where = lick.place(lick.notes[note.index].onset)
            lines.append(f"  - {note.degree} in {where}: {note.function}; {note.reason}.")
    elif analysis.frame is not None:
        lines += ["", "No note lies outside the frame."]
    if lick.remarks:
        lines += ["", "Decided while reading"]
        lines += [f"  - {_capital(remark.rstrip('.'))}." for remark in lick.remarks]
    return "\n".join(lines) + "\n"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _facts(lick: Lick) -> str:
    parts = [f"{lick.meter}"]
    if lick.key:
        parts.append(f"key of {lick.key}")
    if lick.tempo:
        parts.append(f"{float(lick.tempo.bpm):g} beats a minute")
    if lick.instrument:
        tuning = "" if lick.instrument.tuning == "standard" else f" in {lick.instrument.tuning}"
        capo = f", capo {lick.instrument.capo}" if lick.instrument.capo else ""
        parts.append(f"{lick.instrument.name}{tuning}{capo}")
    if lick.style:
        parts.append(lick.style)
    chords = list(dict.fromkeys(s.symbol.text for s in lick.chords if s.symbol))
    if chords:
        shown = chords[:8]
        parts.append(f"over {join_words(shown)}{' and more' if len(chords) > 8 else ''}")
    return "; ".join(parts)
