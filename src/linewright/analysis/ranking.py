"""Every collection on every tonic by its bits, cheapest first.

How it is worked out. Sets of pitch classes are bit sets: bit ``n`` stands for pitch class ``n`` (or
for ``n`` semitones above a tonic), so the notes left outside are ``sounding & ~frame``. Write W, I
and O for the sums, over some notes, of their weight, of weight * -log2(1 - q) and of weight *
-log2(q). Under a frame of k degrees that leaves m pitch classes outside, the notes cost

    log2(k) * W_inside + I_inside + log2(m) * W_outside + O_outside + (naming the m)

and as inside and outside make up the whole, which is the same for every frame, only the sums W and
O - I over the *outside* notes have to be found for each:

    log2(k) * W + I + (O - I)_outside + (log2(m) - log2(k)) * W_outside + (naming the m)

They are read from tables of subset sums, one for each half of the twelve bits. Frames of the same
notes (G major, A dorian ...) share these costs and differ by their names: 432 frames are 168 sets,
of six sizes. The search is best first: a size is opened into its sets, and a set into its frames,
when the least that any of them can cost is the lowest number left.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from math import log2
from typing import Final, NamedTuple

from linewright.analysis.frame import (
    ALL_PITCH_CLASSES,
    CADENCE_BITS,
    CHORD_BITS,
    KEY_BITS,
    Evidence,
    bit_set,
    candidates,
    has_own_seventh,
    naming_bits,
    turned,
)
from linewright.theory import ChordSymbol

__all__ = ["PITCH_CLASSES", "Ranked", "Ranking", "subset_sums"]

#: Bit set of pitch classes of each candidate on each tonic.
PITCH_CLASSES: Final = tuple(
    tuple(turned(candidate.degrees, 12 - tonic) for candidate in candidates) for tonic in range(12)
)


def _sets() -> dict[int, list[tuple[int, int]]]:
    """Bit set of pitch classes -> the (tonic, candidate number) that have it, smaller sets first."""
    found: dict[int, list[tuple[int, int]]] = {}
    for tonic, row in enumerate(PITCH_CLASSES):
        for number, bits in enumerate(row):
            found.setdefault(bits, []).append((tonic, number))
    return dict(sorted(found.items(), key=lambda item: item[0].bit_count()))


_SETS: Final = _sets()
_MEMBERS: Final = tuple(tuple(members) for members in _SETS.values())
_PLACE: Final = {member: place for place, members in enumerate(_MEMBERS) for member in members}
#: Place in _MEMBERS of each candidate on each tonic.
_SET_OF: Final = tuple(
    tuple(_PLACE[tonic, number] for number in range(len(candidates))) for tonic in range(12)
)
#: The least that naming a member of each set can cost.
_LEAST_NAME: Final = tuple(
    min(candidates[number].bits - candidates[number].colour_saving for _, number in members)
    for members in _MEMBERS
)
#: Whether each set has a member on each tonic.
_STANDS_ON: Final = tuple(
    tuple(any(tonic == t for t, _ in members) for members in _MEMBERS) for tonic in range(12)
)
_THIRDS: Final = 1 << 3 | 1 << 4
_LOG: Final = (0.0, *(log2(n) for n in range(1, 13)))
_COUNT: Final = tuple(bits.bit_count() for bits in range(ALL_PITCH_CLASSES + 1))


class _Size(NamedTuple):
    """The sets of so many degrees: where they are in _MEMBERS, the pitch classes each leaves out, the
    least name of all, and by number m outside what a note's weight costs outside instead of inside
    (log2 m - log2 k) and what naming the m costs.
    """

    degrees: int
    places: range
    rests: tuple[int, ...]
    least_name: float
    crowd: tuple[float, ...]
    naming: tuple[float, ...]


def _sizes() -> Iterator[_Size]:
    sets = list(_SETS)
    for degrees in sorted({bits.bit_count() for bits in sets}):
        own = [place for place, bits in enumerate(sets) if bits.bit_count() == degrees]
        yield _Size(
            degrees,
            range(own[0], own[-1] + 1),
            tuple(ALL_PITCH_CLASSES & ~sets[place] for place in own),
            min(_LEAST_NAME[place] for place in own),
            tuple(log - _LOG[degrees] for log in _LOG),
            tuple(m * naming_bits(degrees) for m in range(13)),
        )


_SIZES: Final = tuple(_sizes())
_SIZE_OF: Final = tuple(size for size in _SIZES for _ in size.places)


#: For each tonic and candidate: place in _SIZES, pitch classes left out, and the size's ``crowd`` and
#: ``naming``; for each candidate the bits of its name, its colour and what the colour saves.
_ROWS: Final = tuple(
    tuple(
        (
            _SIZES.index(_SIZE_OF[place]),
            ALL_PITCH_CLASSES & ~PITCH_CLASSES[tonic][number],
            _SIZE_OF[place].crowd,
            _SIZE_OF[place].naming,
        )
        for number, place in enumerate(row)
    )
    for tonic, row in enumerate(_SET_OF)
)
_NAMES: Final = tuple((c.bits, c.colour_bit, c.colour_saving) for c in candidates)


def subset_sums(values: Sequence[float]) -> list[float]:
    """Sum of the values of every subset, by its bit set."""
    sums = [0.0]
    for value in values:
        sums += [value + known for known in sums]
    return sums


#: (bits, tonic number, place in ``candidates``): these sort as readings are listed.
Ranked = tuple[float, int, int]


class Ranking:
    """Every candidate on every tonic by its bits; iterating gives them cheapest first.

    Parameters
    ----------
    found : Evidence
    tonic_bits : sequence of 12 floats
        Cost of each pitch class as tonic.
    home_chord : ChordSymbol, optional
        The chord on the tonic, when one is written.
    written : (int, int), optional
        Tonic number and bit set of degrees of the scale a written key names.
    cadence : (int, int), optional
        Tonic number and bit set of the degrees that the chords' cadence on it, or its own chord,
        asks for: a scale without those that are played is dear, on any tonic.
    """

    def __init__(
        self,
        found: Evidence,
        tonic_bits: Sequence[float],
        home_chord: ChordSymbol | None = None,
        written: tuple[int, int] | None = None,
        cadence: tuple[int, int] | None = None,
    ) -> None:
        self._written = written
        self._sounding = found.sounding
        self._cadence_on, self._cadence = cadence if cadence is not None else (-1, 0)
        if cadence is not None:  # only what is played
            self._cadence &= turned(found.heard, self._cadence_on)
        self._asked = turned(self._cadence, 12 - self._cadence_on) if self._cadence else 0
        self._tonic_bits = tonic_bits
        self._chord_root = home_chord.root.number if home_chord else -1
        self._chord = (
            turned(bit_set(home_chord.numbers), self._chord_root)
            if home_chord
            else ALL_PITCH_CLASSES
        )
        self._weights = found.weight
        self._weight, self._inside = sum(found.weight), sum(found.inside)
        self._change = [out - own for out, own in zip(found.outside, found.inside, strict=True)]
        self._sums = (
            subset_sums(found.weight[:6]),
            subset_sums(found.weight[6:]),
            subset_sums(self._change[:6]),
            subset_sums(self._change[6:]),
        )
        #: Bits to write the notes inside each set, its name and colours not included; None before
        #: its size is opened.
        self._set_bits: list[float | None] = [None] * len(_MEMBERS)

    def bits(self, tonic: int, number: int) -> float:
        """Bits of one candidate on one tonic."""
        return self.parts(tonic, number)[0]

    def parts(self, tonic: int, number: int) -> tuple[float, float]:
        """Bits of one candidate on one tonic, and how many of them are spent on the notes."""
        place = _SET_OF[tonic][number]
        known = self._set_bits[place]
        if known is None:
            size = _SIZE_OF[place]
            known = self._open(size)[place - size.places.start]
        notes, candidate = known, candidates[number]
        if candidate.colour_bit & turned(self._sounding, tonic):
            notes -= candidate.colour_saving
        bits = notes + candidate.bits + self._tonic_bits[tonic] + self._suits(tonic, number)
        return bits, notes

    def on(self, tonic: int) -> list[Ranked]:
        """Every candidate on one tonic, in order of documentation."""
        return [(bits, tonic, number) for number, (bits, _) in enumerate(self.parts_on(tonic))]

    def parts_on(self, tonic: int) -> list[tuple[float, float]]:
        """:meth:`parts` of every candidate on one tonic, without the sets of the other tonics."""
        low_weight, high_weight, low_change, high_change = self._sums
        sounding, number_of, weight = self._sounding, _COUNT, self._weight
        inside = [self._inside + _LOG[size.degrees] * weight for size in _SIZES]
        heard, own = turned(sounding, tonic), self._tonic_bits[tonic]
        found = []
        for number, (at, rest, crowd, naming) in enumerate(_ROWS[tonic]):
            out = sounding & rest
            low, high, count = out & 63, out >> 6, number_of[out]
            notes = (
                inside[at]
                + low_change[low]
                + high_change[high]
                + crowd[count] * (low_weight[low] + high_weight[high])
                + naming[count]
            )
            name, colour, saving = _NAMES[number]
            if colour & heard:
                notes -= saving
            found.append((notes + name + own, notes))
        if self._written is not None or self._asked or tonic == self._chord_root:
            for number, (bits, notes) in enumerate(found):
                found[number] = (bits + self._suits(tonic, number), notes)
        return found

    def _suits(self, tonic: int, number: int) -> float:
        """What the home chord and the written key add to a candidate, or take off."""
        degrees, bits = candidates[number].degrees, 0.0
        if tonic == self._chord_root:
            if not self._chord & ~degrees:
                bits -= CHORD_BITS
            elif self._chord & _THIRDS and not degrees & _THIRDS:
                bits += CHORD_BITS  # a frame without a third, over a chord that has one
        if self._asked & ~PITCH_CLASSES[tonic][number] and has_own_seventh(number):
            bits += CADENCE_BITS
        if self._written is not None and (tonic, degrees) == self._written:
            bits -= KEY_BITS
        return bits

    def __iter__(self) -> Iterator[Ranked]:
        """Cheapest first, lower tonic number on a tie, worked out only as far as it is asked for."""
        cheap, other = sorted(self._tonic_bits)[:2]
        # Rounding must not make a part look cheaper than the whole.
        spare = 1e-6 + (CHORD_BITS if self._chord_root >= 0 else 0.0)
        spare += KEY_BITS if self._written is not None else 0.0
        stands_on = _STANDS_ON[self._tonic_bits.index(cheap)]
        cheap, other = cheap - spare, other - spare
        # (least bits, 0, place in _SIZES, 0), (least bits, 1, place of a set, 0) or
        # (bits, 2, tonic, candidate number)
        waiting = [(bits + cheap, 0, at, 0) for at, bits in enumerate(self._least_by_size())]
        heapq.heapify(waiting)
        while waiting:
            bits, kind, at, number = heapq.heappop(waiting)
            if kind == 2:
                yield bits, at, number
            elif kind == 1:
                for tonic, number in _MEMBERS[at]:
                    heapq.heappush(waiting, (self.bits(tonic, number), 2, tonic, number))
            else:
                size = _SIZES[at]
                for place, bits in zip(size.places, self._open(size), strict=True):
                    least = bits + _LEAST_NAME[place] + (cheap if stands_on[place] else other)
                    heapq.heappush(waiting, (least, 1, place, 0))

    def _least_by_size(self) -> list[float]:
        """The least that a set of each size can cost with its name.

        Of s sounding pitch classes k degrees leave m = s - k outside or more. What each of them
        changes the cost by is least when only m are outside; the m that change it least are counted,
        and any that lower it.
        """
        sounding = [
            (change, weight)
            for change, weight in zip(self._change, self._weights, strict=True)
            if weight
        ]
        found = []
        for size in _SIZES:
            out = max(0, len(sounding) - size.degrees)
            crowd = size.crowd[out or 1]
            changes = sorted([change + crowd * weight for change, weight in sounding])
            least = self._inside + _LOG[size.degrees] * self._weight + size.least_name
            least += size.naming[out] + sum(changes[:out])
            for change in changes[out:]:
                if change >= 0:
                    break
                least += change
            found.append(least)
        return found

    def _open(self, size: _Size) -> list[float]:
        """Work out the bits of the sets of one size."""
        low_weight, high_weight, low_change, high_change = self._sums
        sounding, number_of, crowd, naming = self._sounding, _COUNT, size.crowd, size.naming
        all_inside = self._inside + _LOG[size.degrees] * self._weight
        bits = []
        for rest in size.rests:
            out = sounding & rest
            low, high, count = out & 63, out >> 6, number_of[out]
            bits.append(
                all_inside
                + low_change[low]
                + high_change[high]
                + crowd[count] * (low_weight[low] + high_weight[high])
                + naming[count]
            )
        self._set_bits[size.places.start : size.places.stop] = bits
        return bits
