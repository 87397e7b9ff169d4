"""What is said of the playing: rhythm, chords, the hands."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from typing import Final

from linewright.analysis.harmony import ChordChange
from linewright.analysis.model import Analysis
from linewright.analysis.prose import (
    article,
    capital,
    count,
    counted,
    interval,
    join_words,
    times,
    whole,
)
from linewright.analysis.words.sentence import LENGTHS, Sentence, listed, percent
from linewright.fretboard import position_name

__all__ = ["chord_words", "hand_words", "rhythm_words"]


#: One distance is the usual one when more of them than this are so long.
_HALF: Final = 0.5


# -- rhythm ------------------------------------------------------------------------------
def rhythm_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """Stream or not, rests, swing, syncopation, bars alike."""
    rhythm, lick = analysis.rhythm, analysis.lick
    if len(lick.melody) < 3:
        return ()
    words = LENGTHS.get(rhythm.common)
    usual = words[1] if words else f"notes {rhythm.common} of a quarter apart"
    if rhythm.is_stream:
        said = [Sentence(f"A steady stream of {usual}.")]
    else:
        share, rests = percent(rhythm.steadiness), counted(rhythm.rests, "rest")
        text = f"Mostly {usual} ({share} of the moves)"
        if rhythm.steadiness == 1:
            text = capital(f"{usual} throughout")
        elif rhythm.steadiness <= _HALF:
            text = f"Notes of mixed length, most often {usual} ({share} of the moves)"
        said = [Sentence(f"{text}, with {rests} inside the phrase.")]
    if rhythm.swing is not None:
        said.append(Sentence(f"Swung {float(rhythm.swing):g} to 1."))
    syncopated = rhythm.heard
    if syncopated:
        places = [lick.place(lick.notes[i].onset) for i in syncopated[:3]]
        number = len(syncopated)
        verb, more = ("is", "") if number == 1 else ("are", " and elsewhere" if number > 3 else "")
        head = capital(f"{counted(number, 'note')} {verb} syncopated")
        said.append(Sentence(head, f": {listed(places)}{more}.", syncopated))
    for cell in rhythm.cells[:2]:
        said.append(Sentence(_alike(analysis, cell.span, cell.onsets)))
    for early, late, move in rhythm.displaced[:2]:
        way = "later" if move > 0 else "earlier"
        length = LENGTHS.get(abs(move))
        by = (
            f"{article(length[0])} {length[0].removesuffix('-note')}"
            if length
            else f"{abs(move)} of a quarter"
        )
        said.append(Sentence(f"Bar {late} has the rhythm of bar {early} {by} {way}."))
    return tuple(said)


def _alike(analysis: Analysis, span: Fraction, onsets: tuple[Fraction, ...]) -> str:
    lick = analysis.lick
    bar = lick.bar_at(onsets[0])
    if span == bar.duration:
        bars = [str(lick.bar_at(onset).number) for onset in onsets]
        if len(bars) > 8:
            bars = [*bars[:6], f"{len(bars) - 6} more"]
        return f"Bars {join_words(bars)} have the same rhythm."
    length = LENGTHS.get(span)
    what = f"{length[1].removesuffix('s')} long" if length else "short one"
    return (
        f"One rhythm, {article(what)} {what}, comes {times(len(onsets))},"
        f" first in {lick.place(onsets[0])}."
    )


# -- chords ------------------------------------------------------------------------------
def chord_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """How much is chord tones, what the rest is, and what happens at each change."""
    harmony, lick = analysis.harmony, analysis.lick
    if harmony.chord_tones is None:
        return ()
    tones = tuple(r.index for r in harmony.relations if r.role != "tension")
    rest = " are chord tones"
    if harmony.strong_chord_tones is not None:
        rest += f"; on the strong beats, {percent(harmony.strong_chord_tones)} are"
    said = [Sentence(f"{percent(harmony.chord_tones)} of all notes", f"{rest}.", tones)]
    tensions = [r for r in harmony.relations if r.role == "tension"]
    if tensions:
        names = list(dict.fromkeys(r.name for r in tensions))[:6]
        under = {r.chord.text for r in tensions}
        chords = under.pop() if len(under) == 1 else "their chords"
        heard = f" heard as the {join_words(names)} of {chords}."
        subject, verb = ("The other", " is") if len(tensions) == 1 else ("The others", " are")
        said.append(Sentence(subject, verb + heard, tuple(r.index for r in tensions)))
    for change in harmony.changes[:4]:
        where = lick.place(lick.notes[change.first].onset)
        said.append(_change(change, where))
    return tuple(said)


def _change(change: ChordChange, where: str) -> Sentence:
    role = {"guide tone": ", a guide tone", "tension": ", a tension"}.get(change.role, "")
    to = f"the {change.lands}{role}."
    if change.held:  # a held note stands on both sides of its change
        head = f"From {change.before} to {change.after}"
        return Sentence(head, f" one note is held and becomes {to}", (change.last,))
    head, notes = f"Into {change.after} ({where})", (change.last, change.first)
    if not change.semitones:
        return Sentence(head, f" the pitch stays and becomes {to}", notes)
    verb = "rises" if change.semitones > 0 else "falls"
    return Sentence(head, f" it {verb} {interval(change.semitones)} to {to}", notes)


# -- hand --------------------------------------------------------------------------------
def hand_words(analysis: Analysis) -> tuple[Sentence, ...]:
    """Positions, picking, playing marks, the hardest spot."""
    hand, lick = analysis.hand, analysis.lick
    if hand is None or len(lick.melody) < 2:
        return ()
    frets = [w.fret for w in hand.windows]
    shifts = len(frets) - 1
    if shifts == 0:
        has_open = hand.open_strings > 0
        name = position_name(frets[0], has_open)
        first = f"All in {name}" if name.endswith("position") else f"All at {name}"
        if not has_open or frets[0] > 1:
            first += f", the index finger over fret {frets[0]}"
    else:
        moved = counted(shifts, "shift of position", "shifts of position")
        first = f"{capital(moved)}: from fret {frets[0]} to {_frets(frets[1:])}"
    if hand.open_strings:
        where = "an open string" if hand.open_strings == 1 else "open strings"
        first += f", with {counted(hand.open_strings, 'note')} on {where}"
    said = [Sentence(f"{first}.")]
    if hand.crossings:
        left = {right: left for left, right in pairwise(lick.melody)}
        slurred = sum(hand.strokes[left[c.note]] == "slur" for c in hand.crossings)
        inside = sum(c.way == "inside" for c in hand.crossings)
        outside = sum(c.way == "outside" for c in hand.crossings)
        number = len(hand.crossings)
        same = number - inside - outside - slurred
        ways = [
            f"{'all' if n == number > 1 else count(n)} {way}"
            for n, way in (
                (inside, "inside"),
                (outside, "outside"),
                (same, "with the same stroke twice"),
                (slurred, "after a slur"),
            )
            if n
        ]
        kinds = f", {join_words(ways)}" if ways else ""
        crossed = f", it crosses strings {times(number)}{kinds}."
        notes = tuple(crossing.note for crossing in hand.crossings)
        said.append(Sentence("Picked down on the beat", crossed, notes))
    if hand.marks:
        marks = join_words(_marks(name, n) for name, n in hand.marks)
        said.append(Sentence(whole(f"Playing marks: {marks}")))
    if hand.hardest is not None:
        where = lick.place(lick.notes[hand.hardest].onset)
        pace = f", in {hand.seconds * 1000:.0f} ms" if hand.seconds else ""
        why = f": {hand.why}{pace}."
        said.append(Sentence(f"The hardest spot is {where}", why, (hand.hardest,)))
    return tuple(said)


_MARK_NOUNS: Final = {
    "vibrato": ("note with vibrato", "notes with vibrato"),
    "dead": ("dead note", "dead notes"),
    "ghost": ("ghost note", "ghost notes"),
    "palm mute": ("palm-muted note", "palm-muted notes"),
    "let ring": ("note left to ring", "notes left to ring"),
    "staccato": ("short note", "short notes"),
    "slide in": ("slide in", "slides in"),
    "slide out": ("slide out", "slides out"),
    "down": ("downstroke", "downstrokes"),
    "up": ("upstroke", "upstrokes"),
}


def _marks(name: str, number: int) -> str:
    singular, plural = _MARK_NOUNS.get(name, (name, f"{name}s"))
    return counted(number, singular, plural)


def _frets(frets: list[int]) -> str:
    shown = [str(fret) for fret in frets[:4]]
    return join_words(shown) if len(frets) <= 4 else ", ".join(shown) + " and so on"
