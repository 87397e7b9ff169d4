"""The analysis in plain words: what a teacher would read out.

:func:`paragraphs` is the one place that turns an analysis into sentences; the command line, the
page and the handout all print what it returns. Each sentence knows the notes it is about.
"""

from __future__ import annotations

from linewright.analysis.model import Analysis
from linewright.analysis.prose import join_words, whole
from linewright.analysis.words.playing import chord_words, hand_words, rhythm_words
from linewright.analysis.words.sentence import LENGTHS, Paragraph, Sentence
from linewright.analysis.words.tune import (
    figure_words,
    frame_words,
    motion_words,
    neighbour_words,
    outside_words,
    span_words,
)
from linewright.score import Lick

__all__ = ["Paragraph", "Sentence", "describe", "facts_line", "paragraphs"]


def paragraphs(analysis: Analysis) -> tuple[Paragraph, ...]:
    """Everything the analysis has to say, in the order a lesson says it; empty parts left out."""
    parts = (
        Paragraph("frame", "What it hangs on", frame_words(analysis)),
        Paragraph("neighbours", "Why not its neighbours", neighbour_words(analysis)),
        Paragraph("spans", "Over the changes", span_words(analysis)),
        Paragraph("motion", "How it moves", motion_words(analysis)),
        Paragraph("figures", "What recurs", figure_words(analysis)),
        Paragraph("outside", "Outside notes", outside_words(analysis)),
        Paragraph("rhythm", "Rhythm", rhythm_words(analysis)),
        Paragraph("chords", "Against the chords", chord_words(analysis)),
        Paragraph("hand", "Under the hand", hand_words(analysis)),
        Paragraph(
            "remarks",
            "Decided while reading",
            tuple(Sentence(whole(remark)) for remark in analysis.lick.remarks),
        ),
    )
    return tuple(part for part in parts if part.said)


def describe(analysis: Analysis) -> str:
    """The analysis as text: title, facts, then each paragraph under its heading."""
    lick = analysis.lick
    lines = [lick.title, facts_line(lick)]
    for part in paragraphs(analysis):
        lines += ["", part.heading]
        lines += [f"  {sentence}" for sentence in part.sentences]
    return "\n".join(lines) + "\n"


def facts_line(lick: Lick) -> str:
    """Meter, key, tempo, instrument, style and chords in one line."""
    parts = [f"{lick.meter}"]
    if lick.key:
        parts.append(f"key of {lick.key}")
    if lick.tempo:
        beat = LENGTHS.get(lick.tempo.beat)
        unit = "" if lick.tempo.beat == 1 or beat is None else f" ({beat[0]} beats)"
        parts.append(f"{float(lick.tempo.bpm):g} beats a minute{unit}")
    if lick.instrument:
        tuning = "" if lick.instrument.tuning == "standard" else f" in {lick.instrument.tuning}"
        capo = f", capo {lick.instrument.capo}" if lick.instrument.capo else ""
        parts.append(f"{lick.instrument.name}{tuning}{capo}")
    if lick.style:
        parts.append(lick.style)
    chords = list(dict.fromkeys(s.symbol.text for s in lick.chords if s.symbol))
    if chords:
        parts.append(f"over {join_words(chords[:8])}{' and more' if len(chords) > 8 else ''}")
    return "; ".join(parts)
