"""Where home is: the tonic from what is given, the key, the chords, or the notes."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

from linewright.analysis.cadence import HOMES, belongs, falls_to
from linewright.analysis.facts import TonicSource
from linewright.analysis.frame import Evidence
from linewright.analysis.prose import join_words
from linewright.analysis.tonic import tonic_bits
from linewright.score import ChordSpan, Lick
from linewright.theory import PitchClass

__all__ = ["Home", "chord_tonic", "inferred_bits", "known_home"]

#: Against a tonic nobody plays.
_SILENT_BITS: Final = 1000.0
#: Against every other tonic where the first, the last and the longest note are one.
_FRAMED_BITS: Final = 3.0


@dataclass(frozen=True, slots=True)
class Home:
    """A known tonic, where the knowledge comes from, and a sentence saying so."""

    tonic: PitchClass
    source: TonicSource
    reason: str


def known_home(lick: Lick, given: PitchClass | None) -> Home | None:
    """The tonic when it need not be inferred from the notes, or None."""
    if given is not None:
        return Home(given, "given", f"the tonic was given as {given}")
    if lick.key is not None:
        return Home(lick.key.tonic, "key", f"the key is written as {lick.key}")
    tonic = chord_tonic(lick.chords)
    if tonic is None:
        return None
    symbols = list(dict.fromkeys(str(span.symbol) for span in lick.chords if span.symbol))
    if len(symbols) == 1:
        return Home(tonic, "chords", f"the only chord is {symbols[0]}")
    shown = join_words(symbols) if len(symbols) < 7 else f"{', '.join(symbols[:6])} and more"
    return Home(tonic, "chords", f"the chords {shown} are at home on {tonic}")


def inferred_bits(lick: Lick, found: Evidence) -> tuple[float, ...]:
    """Cost in bits of each pitch class as the home of a lick without key or chords.

    The estimate from published tunes (:func:`tonic_bits`), with two things a phrase for itself
    adds to a piece cut from a tune: home is played, and a phrase that begins and ends on the
    note it also holds longest is at home there.
    """
    bits = list(tonic_bits(lick))
    notes = [lick.notes[i] for i in lick.melody if found.heard >> lick.notes[i].midi % 12 & 1]
    if not notes:
        return tuple(bits)
    first, last = notes[0].midi % 12, notes[-1].midi % 12
    length = [0.0] * 12
    for note in notes:
        pc = note.midi % 12
        length[pc] = max(length[pc], float(note.duration))
    framed = first == last and len(notes) > 3 and length[last] == max(length)
    framed = framed and length.count(max(length)) == 1
    for pc in range(12):
        if not found.heard >> pc & 1:
            bits[pc] += _SILENT_BITS
        elif framed and pc != last:
            bits[pc] += _FRAMED_BITS
    return tuple(bits)


def chord_tonic(chords: tuple[ChordSpan, ...]) -> PitchClass | None:
    """The tonic a chord progression is at home on, or None without chords.

    Every root is tried as home; chords that belong there count by their length, dominant sevenths
    that fall a fifth onto one that does among them (D7 G7 C is at home on C; Kostka and Payne 2009,
    ch. 16), the first and the last chord count more, so does a dominant to stop on, and a dominant
    that falls onto home counts most (common practice of functional harmony).
    """
    spans = [(span, span.symbol) for span in chords if span.symbol is not None]
    if not spans:
        return None
    roots = list(dict.fromkeys(symbol.root for _, symbol in spans))
    if len({root.number for root in roots}) == 1:
        return roots[0]
    total = float(sum(span.duration for span, _ in spans))

    def home_score(root: PitchClass) -> float:
        fit = 0.0
        for home in HOMES:
            at_home, follower, follows = 0.0, None, False
            for span, symbol in reversed(spans):
                if symbol != follower:  # written again in the next bar it is the same chord
                    applied = follows and symbol.is_dominant and falls_to(symbol, follower)
                    follows = applied or belongs(symbol, root, home)
                    follower = symbol
                at_home += float(span.duration) if follows else 0.0
            fit = max(fit, at_home)
        score = fit / total
        score += 0.3 * (spans[0][1].root.number == root.number)
        score += 0.35 * (spans[-1][1].root.number == root.number)
        for (_, left), (_, right) in itertools.pairwise(spans):
            if falls_to(left, right) and right.root.number == root.number and left.third == "major":
                score += 0.25 if left.is_dominant and not right.is_dominant else 0.1
                break
        above = {(symbol.root.number - root.number) % 12 for _, symbol in spans}
        if above in ({0, 5}, {0, 7}, {0, 5, 7}):
            score += 0.3  # one, four and five: the three-chord tune and the blues
        # A dominant seventh is home only in the blues, where the fourth is one as well.
        own = [symbol for _, symbol in spans if symbol.root.number == root.number]
        blues = any(
            symbol.is_dominant and (symbol.root.number - root.number) % 12 == 5
            for _, symbol in spans
        )
        if own and all(symbol.is_dominant for symbol in own) and not blues:
            score -= 0.3
        if not own or own[0].third == "none":
            score -= 0.1
        last = spans[-1][1]
        if own and last.third == "major" and (last.root.number - root.number) % 12 == 7:
            score += 0.2  # it stops on the dominant: a half cadence, or round again to the top
        return score

    return max(roots, key=home_score)
