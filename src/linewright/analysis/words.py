"""The analysis in plain words: what a teacher would read out.

:func:`paragraphs` is the one place that turns an analysis into sentences; the command line, the
page and the handout all print what it returns.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from linewright.analysis.model import Analysis
from linewright.analysis.reasons import join_words, times
from linewright.analysis.usage import usage_words
from linewright.score import Lick

__all__ = ["Paragraph", "describe", "facts_line", "paragraphs"]


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A ``heading`` and its ``sentences``, each a whole sentence; ``key`` names it for programs:
    ``frame``, ``neighbours``, ``spans``, ``motion``, ``figures``, ``outside``, ``rhythm``,
    ``chords``, ``hand`` or ``remarks``.
    """

    key: str
    heading: str
    sentences: tuple[str, ...]


def paragraphs(analysis: Analysis) -> tuple[Paragraph, ...]:
    """Everything the analysis has to say, in the order a lesson says it; empty parts left out."""
    parts = (
        Paragraph("frame", "What it hangs on", _frame(analysis)),
        Paragraph("neighbours", "Why not its neighbours", _neighbours(analysis)),
        Paragraph("spans", "Over the changes", _spans(analysis)),
        Paragraph("motion", "How it moves", _motion(analysis)),
        Paragraph("figures", "What recurs", _figures(analysis)),
        Paragraph("outside", "Outside notes", _outside(analysis)),
        Paragraph("rhythm", "Rhythm", _rhythm(analysis)),
        Paragraph("chords", "Against the chords", _chords(analysis)),
        Paragraph("hand", "Under the hand", _hand(analysis)),
        Paragraph(
            "remarks",
            "Decided while reading",
            tuple(_sentence(remark) for remark in analysis.lick.remarks),
        ),
    )
    return tuple(part for part in parts if part.sentences)


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
        beat = _LENGTHS.get(lick.tempo.beat)
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


def _sentence(text: str) -> str:
    text = text.strip().rstrip(".")
    return f"{text[:1].upper()}{text[1:]}."


# -- frame -------------------------------------------------------------------------------
def _frame(analysis: Analysis) -> tuple[str, ...]:
    return (
        analysis.verdict,
        f"Home is {analysis.tonic}: {analysis.tonic_reason}."
        if not analysis.tonic_reason.startswith(f"{analysis.tonic} is home")
        else _sentence(analysis.tonic_reason),
    )


def _neighbours(analysis: Analysis) -> tuple[str, ...]:
    return tuple(_sentence(reading.reason) for reading in analysis.rivals)


def _spans(analysis: Analysis) -> tuple[str, ...]:
    if len(analysis.spans) < 2:
        return ()
    lick = analysis.lick
    said = []
    for span in analysis.spans:
        where = lick.place(lick.notes[span.first].onset)
        over = f" over {span.chord}" if span.chord else ""
        what = span.frame.name if span.frame else "nothing that can be named"
        said.append(f"From {where}{over} it hangs on {what}.")
    return tuple(said)


# -- motion and figures ------------------------------------------------------------------
def _motion(analysis: Analysis) -> tuple[str, ...]:
    moves = analysis.motion
    if len(analysis.lick.melody) < 3:
        return ()
    shares = [
        (moves.steps, "scale steps"), (moves.skips, "skips"), (moves.leaps, "leaps"),
        (moves.repeats, "repeated notes"),
    ]  # fmt: skip
    shares = [(share, name) for share, name in shares if share]
    shares.sort(key=lambda item: -item[0])
    if len(shares) == 1:
        first = (
            f"It moves only by {shares[0][1]}"
            if shares[0][1] != "repeated notes"
            else "One note is repeated throughout"
        )
    else:
        first = "It moves by " + join_words(f"{name} ({_percent(share)})" for share, name in shares)
    first += f", over {moves.range} {'semitone' if moves.range == 1 else 'semitones'}."
    ends = []
    if moves.first and moves.last:
        if moves.first == moves.last:
            ends.append(f"It begins and ends on {_note(moves.first)}")
        else:
            ends.append(f"It begins on {_note(moves.first)} and ends on {_note(moves.last)}")
    if moves.last_bar and len([b for b in analysis.lick.bars if b.number]) > 1:
        ends.append(f"the last bar {moves.last_bar}")
    return (first, _sentence("; ".join(ends))) if ends else (first,)


def _note(name: str) -> str:
    return f"the {name}" if name[-1:].isdigit() else name


def _percent(share: Fraction) -> str:
    return f"{round(float(share) * 100)} %"


_NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def _count(number: int) -> str:
    """A small number in letters, as prose has it."""
    return _NUMBERS[number] if 0 <= number < len(_NUMBERS) else str(number)


def _article(word: str) -> str:
    return "an" if word[0] in "aeiou" else "a"


def _figures(analysis: Analysis) -> tuple[str, ...]:
    said = []
    lick = analysis.lick
    for figure in analysis.figures:
        first = figure.occurrences[0][0]
        where = lick.place(lick.notes[first].onset)
        said.append(
            _sentence(f"From {where}, {_article(figure.kind)} {figure.kind}: {figure.tight.words}")
        )
        if figure.loose.words:
            said.append(_sentence(f"The idea: {figure.loose.words}"))
    return tuple(said)


# -- outside notes -----------------------------------------------------------------------
def _outside(analysis: Analysis) -> tuple[str, ...]:
    if analysis.frame is None:
        return ()
    if not analysis.outside_notes:
        return ("No note lies outside the frame.",)
    lick = analysis.lick
    said = []
    for note in analysis.outside_notes:
        where = lick.place(lick.notes[note.index].onset)
        said.append(f"{_capital(note.degree.name)} in {where}: {note.function}; {note.reason}.")
    for usage in analysis.usage:
        if len(usage.notes) > 1:
            said.append(f"{usage_words(usage)}.")
        said += [_sentence(fact) for fact in usage.facts]
    return tuple(said)


def _capital(text: str) -> str:
    return text if text[:1] in "b#" else text[:1].upper() + text[1:]


# -- rhythm ------------------------------------------------------------------------------
_LENGTHS: Final = {
    Fraction(4): ("whole-note", "whole notes"),
    Fraction(3): ("dotted half-note", "dotted half notes"),
    Fraction(2): ("half-note", "half notes"),
    Fraction(3, 2): ("dotted-quarter", "dotted quarters"),
    Fraction(1): ("quarter-note", "quarter notes"),
    Fraction(3, 4): ("dotted-eighth", "dotted eighths"),
    Fraction(1, 2): ("eighth-note", "eighth notes"),
    Fraction(1, 3): ("triplet-eighth", "triplet eighths"),
    Fraction(1, 4): ("sixteenth-note", "sixteenth notes"),
    Fraction(1, 6): ("triplet-sixteenth", "triplet sixteenths"),
    Fraction(1, 8): ("thirty-second-note", "thirty-second notes"),
}


def _rhythm(analysis: Analysis) -> tuple[str, ...]:
    rhythm, lick = analysis.rhythm, analysis.lick
    if len(lick.melody) < 3:
        return ()
    words = _LENGTHS.get(rhythm.common)
    usual = words[1] if words else f"notes {rhythm.common} of a quarter apart"
    if rhythm.is_stream:
        said = [f"A steady stream of {usual}."]
    else:
        share = round(rhythm.steadiness * 100)
        rests = f"{_count(rhythm.rests)} {'rest' if rhythm.rests == 1 else 'rests'}"
        said = [f"Mostly {usual} ({share} % of the moves), with {rests} inside the phrase."]
    if rhythm.swing is not None:
        said.append(f"Swung {float(rhythm.swing):g} to 1.")
    if rhythm.syncopated:
        places = [lick.place(lick.notes[i].onset) for i in rhythm.syncopated[:3]]
        count = len(rhythm.syncopated)
        more = " among others" if count > 3 else ""
        verb = "is" if count == 1 else "are"
        noun = "note" if count == 1 else "notes"
        said.append(
            _sentence(f"{_count(count)} {noun} {verb} syncopated, in {join_words(places)}{more}")
        )
    for cell in rhythm.cells[:2]:
        bars = [str(lick.bar_at(onset).number) for onset in cell.onsets]
        said.append(f"Bars {join_words(bars)} have the same rhythm.")
    for early, late, move in rhythm.displaced[:2]:
        way = "later" if move > 0 else "earlier"
        length = _LENGTHS.get(abs(move))
        by = (
            f"{'an' if length[0][0] in 'aeiou' else 'a'} {length[0].removesuffix('-note')}"
            if length
            else f"{abs(move)} quarters"
        )
        said.append(f"Bar {late} has the rhythm of bar {early} {by} {way}.")
    return tuple(said)


# -- chords ------------------------------------------------------------------------------
def _chords(analysis: Analysis) -> tuple[str, ...]:
    harmony, lick = analysis.harmony, analysis.lick
    if harmony.chord_tones is None:
        return ()
    said = [f"{round(harmony.chord_tones * 100)} % of all notes are chord tones"]
    if harmony.strong_chord_tones is not None:
        said[0] += f"; on the strong beats, {round(harmony.strong_chord_tones * 100)} % are"
    said[0] += "."
    tensions = list(dict.fromkeys(r.name for r in harmony.relations if r.role == "tension"))
    if tensions:
        said.append(f"The others are heard as the {join_words(tensions[:6])} of their chords.")
    for change in harmony.changes[:4]:
        where = lick.place(lick.notes[change.first].onset)
        role = {"guide tone": ", a guide tone", "tension": ", a tension"}.get(change.role, "")
        if change.held:
            said.append(
                f"From {change.before} to {change.after} one note is held and becomes the"
                f" {change.lands}{role}."
            )
        else:
            move = _moved(change.semitones)
            said.append(f"Into {change.after} ({where}) it {move} to the {change.lands}{role}.")
    return tuple(said)


def _moved(semitones: int) -> str:
    if not semitones:
        return "keeps its pitch, which comes"
    size = {1: "a semitone", 2: "a whole step"}.get(abs(semitones), f"{abs(semitones)} semitones")
    return f"{'rises' if semitones > 0 else 'falls'} {size}"


# -- hand --------------------------------------------------------------------------------
def _hand(analysis: Analysis) -> tuple[str, ...]:
    hand, lick = analysis.hand, analysis.lick
    if hand is None or len(lick.melody) < 2:
        return ()
    frets = [w.fret for w in hand.windows]
    shifts = len(frets) - 1
    if shifts == 0:
        said = [f"All in one position, the index finger over fret {frets[0]}"]
    else:
        noun = "shift" if shifts == 1 else "shifts"
        said = [
            f"{_capital(_count(shifts))} {noun} of position, from fret {frets[0]} by way of {_frets(frets[1:])}"
        ]
    if hand.open_strings:
        said[0] += (
            f", with {_count(hand.open_strings)} open {'string' if hand.open_strings == 1 else 'strings'}"
        )
    said[0] += "."
    inside = sum(c.way == "inside" for c in hand.crossings)
    outside = sum(c.way == "outside" for c in hand.crossings)
    if hand.crossings:
        ways = [f"{_count(n)} {way}" for n, way in ((inside, "inside"), (outside, "outside")) if n]
        kinds = f", {join_words(ways)}" if ways else ""
        said.append(
            f"Picked down on the beat, it crosses strings {times(len(hand.crossings))}{kinds}."
        )
    if hand.marks:
        said.append(f"Playing marks: {join_words(f'{name} {times(n)}' for name, n in hand.marks)}.")
    if hand.hardest is not None:
        where = lick.place(lick.notes[hand.hardest].onset)
        pace = f" in {hand.seconds * 1000:.0f} ms" if hand.seconds else ""
        said.append(f"The hardest spot is {where}: {hand.why}{pace}.")
    return tuple(said)


def _frets(frets: list[int]) -> str:
    shown = [str(fret) for fret in frets[:4]]
    return join_words(shown) + (" and on" if len(frets) > 4 else "")
