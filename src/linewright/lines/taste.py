"""How well each pitch suits a moment: chord tones at changes and on strong beats, landings.

The weights say what a teacher says (common practice): land on a chord tone when the chord
changes, best on its 3rd or 7th; keep to chord tones on strong beats; do not sit on the note a
half step above a chord's 3rd; end a phrase on a chord tone, a line on the root, 3rd or 5th. How
strongly is learned from the lick: its share of chord tones on strong beats.
"""

from __future__ import annotations

from typing import Final

from linewright.analysis import Analysis
from linewright.lines.slots import Slot

__all__ = ["Taste"]

#: How strongly the lick's favoured degrees are favoured, and the notes of even share added first.
_LEAN: Final = 0.8
_EVEN_NOTES: Final = 8
_EVEN: Final = 0.6  # the share of chord tones on strong beats that earns the plain weights


class Taste:
    """Weight of a pitch at a slot, from the chord and the place in bar and phrase."""

    def __init__(self, analysis: Analysis) -> None:
        share = analysis.harmony.strong_chord_tones
        self.strength = 1.0 if share is None else round(0.4 + 0.6 * min(1.0, share / _EVEN), 3)
        lick = analysis.lick
        self.degrees = _degree_weights(analysis)
        heights = [lick.notes[i].midi for i in lick.melody]
        self.center = sum(heights) / len(heights)
        self.width = max(4.0, (max(heights) - min(heights)) * 0.45)

    def weight(self, slot: Slot, midi: int, moved: int, *, last: bool) -> float:
        """The weight of sounding ``midi`` at ``slot``; ``moved`` is how far the home has moved."""
        away = (midi - self.center - moved) / self.width
        weight = 1.0 / (1.0 + away * away * 0.35)
        chord = slot.chord
        tonic = slot.frame.tonic.number
        weight *= self.degrees[(midi - tonic) % 12]
        if chord is None:
            if last or slot.closes:
                rest = (midi - tonic) % 12
                weight *= {0: 6.0, 7: 2.5, 3: 2.0, 4: 2.0}.get(rest, 0.4)
            return weight
        above = (midi - chord.root.number) % 12
        tones = {d.semitones: d.number for d in chord.degrees}
        number = tones.get(above)
        strong = 0.0
        if last:
            strong = 2.5
        elif slot.closes or slot.arrives:
            strong = 1.5
        elif slot.level >= -1:
            strong = 1.0
        elif slot.on_beat:
            strong = 0.5
        strong *= self.strength
        if number is not None and number <= 7:
            factor = 2.2
            if slot.arrives and number in (3, 7):
                factor = 3.2
            if last:
                factor = {1: 3.5, 3: 2.4, 5: 2.0}.get(number, 1.3)
                if (midi - tonic) % 12 == 0:
                    factor *= 1.3
        else:
            factor = 0.55
            if chord.third == "major" and above == 5:
                factor = 0.25
        return float(weight * factor**strong)


def _degree_weights(analysis: Analysis) -> tuple[float, ...]:
    """For each semitone above the tonic, how much the lick favours that degree of its frame: the
    share over an even share to the power ``_LEAN``, some notes of even share added first.
    """
    frame = analysis.frame
    inside = frame.numbers if frame is not None else frozenset(range(12))
    counts = dict.fromkeys(sorted(inside), _EVEN_NOTES / len(inside))
    for index in analysis.lick.melody:
        number = analysis.lick.notes[index].midi % 12
        if number in counts:
            counts[number] += 1
    total = sum(counts.values())
    tonic = analysis.tonic.number
    return tuple(
        round((counts.get((tonic + k) % 12, total / len(inside)) * len(inside) / total) ** _LEAN, 9)
        for k in range(12)
    )
