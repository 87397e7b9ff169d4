"""The fingering search: dynamic programming over places and hand positions.

A state is a way to play an attack (one place for each of its notes) and the position of the
hand. The cost between states splits into a part along the neck, which depends only on the two
positions, and a part across it, which depends only on the two ways, so the best predecessor
of all states of a way is found by one sweep up and one down the neck for each way before (a
distance transform after Felzenszwalb and Huttenlocher 2012, section 2.1). The result is the
cheapest fingering under :class:`FingeringCost`; the tests hold it against brute force.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import product
from math import ceil, floor, inf

from linewright.errors import MusicError
from linewright.fretboard.cost import AS_PLAYED, Attack, FingeringCost, reach_of
from linewright.fretboard.instruments import instrument as named
from linewright.fretboard.places import Place, harmonic_places, places
from linewright.score import Grace, Instrument, Lick, Note, Tempo

__all__ = ["finger", "fingering_cost", "hand_positions"]

_USUAL_TEMPO = Fraction(100)  # quarters a minute, when a lick does not say
_MOST_WAYS = 400
_Way = tuple[Place, ...]


def finger(
    lick: Lick, instrument: Instrument | None = None, *, cost: FingeringCost | None = None
) -> Lick:
    """Give every note a string and a fret.

    Parameters
    ----------
    lick : Lick
        Notes that have a place keep it.
    instrument : Instrument, optional
        The lick's own when None, or a guitar in standard tuning.
    cost : FingeringCost, optional
        What to minimise.

    Returns
    -------
    Lick
        The cheapest fingering, with the instrument set. Grace notes take the string of the note
        they lead to where its frets allow, else the place nearest the hand.

    Raises
    ------
    MusicError
        When a note is out of the instrument's range, notes cannot be struck together, or a
        given place does not sound the note. No note is moved by an octave.

    >>> from linewright.score import Note, bars_for, Meter
    >>> from linewright.theory import Pitch
    >>> notes = tuple(Note(k, 1, Pitch.parse(p)) for k, p in enumerate(("G3", "A3", "B3", "D4")))
    >>> done = finger(Lick(notes, bars_for(Meter(4, 4), 4)))
    >>> [(note.string, note.fret) for note in done.notes]
    [(3, 0), (3, 2), (2, 0), (2, 3)]
    """
    chosen = instrument or lick.instrument or named("guitar")
    if not lick.notes:
        return replace(lick, instrument=chosen)
    found = _search(lick, chosen, cost or FingeringCost())
    notes: list[Note] = []
    for attack, way, position in zip(found.attacks, found.ways, found.positions, strict=True):
        for note, place in zip(attack.notes, way, strict=True):
            notes.append(
                replace(
                    note,
                    string=place.string,
                    fret=place.fret,
                    grace=tuple(_place_grace(g, place, position, chosen) for g in note.grace),
                )
            )
    return replace(lick, notes=tuple(notes), instrument=chosen)


def fingering_cost(lick: Lick, *, cost: FingeringCost | None = None) -> float:
    """Cost of a lick's fingering with the hand placed as well as may be.

    Notes without a place are given the best one; 0.0 for a lick without notes.
    """
    if not lick.notes:
        return 0.0
    return _search(lick, lick.instrument or named("guitar"), cost or FingeringCost()).total


def hand_positions(lick: Lick) -> tuple[int, ...]:
    """The position of the hand at each note: the fret its index finger lies over.

    The hand stretches and shifts as little as the places allow. Of positions that ask for
    equally little it is in first position when open strings are played, else in the one whose
    first fret is played most, as players name positions. A lick with notes that have no place
    is fingered first.

    >>> from linewright.score import Note, bars_for, Meter
    >>> from linewright.theory import Pitch
    >>> frets = (("A4", 5), ("C5", 8), ("A4", 5), ("G#4", 4))
    >>> notes = [Note(k, 1, Pitch.parse(p), string=1, fret=f) for k, (p, f) in enumerate(frets)]
    >>> hand_positions(Lick(tuple(notes), bars_for(Meter(4, 4), 4)))
    (5, 5, 5, 5)
    """
    if not lick.notes:
        return ()
    placed = lick if all(note.fret is not None for note in lick.notes) else finger(lick)
    found = _search(placed, placed.instrument or named("guitar"), AS_PLAYED)
    return tuple(
        position
        for attack, position in zip(found.attacks, found.positions, strict=True)
        for _ in attack.notes
    )


# -- candidates --------------------------------------------------------------------------
def _attacks(lick: Lick, instrument: Instrument) -> list[Attack]:
    groups: list[list[Note]] = []
    for note in lick.notes:
        if groups and groups[-1][0].onset == note.onset:
            groups[-1].append(note)
        else:
            groups.append([note])
    known: dict[tuple[int, bool], tuple[Place, ...]] = {}
    return [Attack(tuple(group), _ways(group, lick, instrument, known)) for group in groups]


def _ways(
    group: Sequence[Note],
    lick: Lick,
    instrument: Instrument,
    known: dict[tuple[int, bool], tuple[Place, ...]],
) -> tuple[_Way, ...]:
    """Every way to play notes together, each on a string of its own and within one hand."""
    options: list[tuple[Place, ...]] = []
    for note in group:
        if note.string is not None and note.fret is not None:
            options.append((Place(note.string, note.fret),))
            continue
        key = (note.midi, bool(note.bend) or note.has("harmonic"))
        found = known.get(key)
        if found is None:
            found = _options(note, instrument)
            if not key[1]:
                known[key] = found
        if not found:
            raise _out_of_range(note, lick, instrument)
        options.append(found)
    if len(options) == 1:
        return tuple((place,) for place in options[0])
    ways: list[_Way] = []
    widest = reach_of(instrument) + 1
    fixed = all(note.string is not None for note in group)
    for way in product(*options):
        if len({place.string for place in way}) < len(way):
            continue
        frets = [place.fret for place in way if place.fret]
        if frets and max(frets) - min(frets) > widest and not fixed:
            continue
        ways.append(way)
        if len(ways) >= _MOST_WAYS:
            break
    if not ways:
        names = " and ".join(str(note.pitch) for note in group)
        raise MusicError(
            f"{names} cannot be played together on a {instrument.name}",
            place=lick.place(group[0].onset),
            accepted="Leave one of them out, or choose another instrument or tuning",
        )
    return tuple(ways)


def _options(note: Note, instrument: Instrument) -> tuple[Place, ...]:
    if note.has("harmonic"):
        return harmonic_places(note.midi, instrument) or places(note.midi, instrument)
    if not note.bend:
        return places(note.midi, instrument)
    below = note.midi - note.bend
    held = {midi for midi in (floor(below), ceil(below)) if round(midi + note.bend) == note.midi}
    return tuple(place for midi in sorted(held) for place in places(midi, instrument) if place.fret)


def _out_of_range(note: Note, lick: Lick, instrument: Instrument) -> MusicError:
    strings = range(1, len(instrument.strings) + 1)
    low = min(instrument.open_midi(string) for string in strings)
    high = max(instrument.midi_at(string, instrument.frets - instrument.capo) for string in strings)
    where = lick.place(note.onset)
    if note.midi < low:
        return MusicError(
            f"{note.pitch} lies below the lowest note of the {instrument.name}"
            f" ({instrument.tuning})",
            place=where,
            accepted="Move the lick up an octave, or choose another instrument or tuning",
        )
    if note.midi > high:
        return MusicError(
            f"{note.pitch} lies above the highest fret of the {instrument.name}",
            place=where,
            accepted="Move the lick down an octave, or choose another instrument or tuning",
        )
    what = f"{note.pitch} with its bend" if note.bend else f"{note.pitch}"
    return MusicError(
        f"{what} has no place on the {instrument.name} ({instrument.tuning})",
        place=where,
        accepted="Choose another instrument or tuning, or take the bend off",
    )


def _place_grace(grace: Grace, main: Place, position: int, instrument: Instrument) -> Grace:
    if grace.string is not None:
        return grace
    options = places(grace.pitch.midi, instrument)
    if not options:
        return grace
    best = min(
        options,
        key=lambda p: (p.string != main.string, abs(p.fret - position) if p.fret else 0, p.string),
    )
    if best.string == main.string and best.fret and abs(best.fret - (main.fret or position)) > 5:
        best = min(options, key=lambda p: abs(p.fret - position) if p.fret else 0)
    return replace(grace, string=best.string, fret=best.fret)


# -- the search --------------------------------------------------------------------------
class _Found:
    """The cheapest walk: attacks with their ways and hand positions, and its cost."""

    __slots__ = ("attacks", "positions", "total", "ways")

    def __init__(
        self, attacks: list[Attack], ways: list[_Way], positions: list[int], total: float
    ) -> None:
        self.attacks, self.ways, self.positions, self.total = attacks, ways, positions, total


def _positions(way: _Way, reach: int, highest: int) -> range:
    """Hand positions from which a way can be played; all of them for open strings."""
    frets = [place.fret for place in way if place.fret]
    if not frets:
        return range(1, highest + 1)
    low, high = max(1, max(frets) - reach), min(frets) + 1
    if low > high:  # given by hand, wider than a hand: from the middle of the stretch
        middle = max(1, (max(frets) + min(frets) - reach + 1) // 2)
        return range(middle, middle + 1)
    return range(low, high + 1)


def _search(lick: Lick, instrument: Instrument, cost: FingeringCost) -> _Found:
    attacks = _attacks(lick, instrument)
    reach = reach_of(instrument)
    frets = [p.fret for attack in attacks for way in attack.ways for p in way]
    highest = max(frets, default=0) + 1
    tempo = lick.tempo or Tempo(_USUAL_TEMPO)
    seconds = tempo.seconds_per_quarter

    # table[i][w]: cheapest cost of reaching way w of attack i, by hand position
    table: list[list[list[float]]] = []
    back: list[list[list[tuple[int, int]]]] = []
    for index, attack in enumerate(attacks):
        row: list[list[float]] = []
        origin: list[list[tuple[int, int]]] = []
        arrivals = (
            _arrivals(attacks[index - 1], attack, table[-1], cost, seconds) if index else None
        )
        for way in attack.ways:
            costs = [inf] * (highest + 1)
            sources = [(0, 0)] * (highest + 1)
            across = (
                [cost.across(attack.notes, before, way) for before in attacks[index - 1].ways]
                if index
                else []
            )
            for position in _positions(way, reach, highest):
                own = cost.node(attack.notes, way, position, reach)
                if arrivals is None:
                    costs[position] = own
                    continue
                best, source = inf, (0, 0)
                for number, (reached, from_position) in enumerate(arrivals):
                    total = reached[position] + across[number]
                    if total < best:
                        best, source = total, (number, from_position[position])
                costs[position] = best + own
                sources[position] = source
            row.append(costs)
            origin.append(sources)
        table.append(row)
        back.append(origin)
    return _trace(attacks, table, back)


def _arrivals(
    before: Attack,
    after: Attack,
    costs: list[list[float]],
    cost: FingeringCost,
    seconds: float,
) -> list[tuple[list[float], list[int]]]:
    """For each way before: the cheapest cost of having the hand in each position for the next
    attack, and the position it came from.
    """
    fretted = cost.haste(before.notes, after.notes, seconds)
    opened = cost.haste_open(before.notes, after.notes, seconds)
    slid = cost.slide_shift if any(note.has("slide") for note in after.notes) else 1.0
    done = []
    for way, line in zip(before.ways, costs, strict=True):
        haste = slid * (fretted if any(place.fret for place in way) else opened)
        done.append(_sweep(line, haste * cost.shift, haste * cost.shift_fret))
    return done


def _sweep(line: list[float], shift: float, per_fret: float) -> tuple[list[float], list[int]]:
    """``min over q of line[q] + (shift + per_fret * |p - q| unless p = q)`` for every p."""
    size = len(line)
    moved, origin = list(line), list(range(size))
    for p in range(1, size):
        step = moved[p - 1] + per_fret
        if step < moved[p]:
            moved[p], origin[p] = step, origin[p - 1]
    for p in range(size - 2, -1, -1):
        step = moved[p + 1] + per_fret
        if step < moved[p]:
            moved[p], origin[p] = step, origin[p + 1]
    for p in range(size):
        if line[p] <= moved[p] + shift:
            moved[p], origin[p] = line[p], p
        else:
            moved[p] += shift
    return moved, origin


def _trace(
    attacks: list[Attack],
    table: list[list[list[float]]],
    back: list[list[list[tuple[int, int]]]],
) -> _Found:
    last = table[-1]
    total, number, position = min(
        (value, number, position)
        for number, costs in enumerate(last)
        for position, value in enumerate(costs)
    )
    ways: list[_Way] = []
    positions: list[int] = []
    for index in range(len(attacks) - 1, -1, -1):
        ways.append(attacks[index].ways[number])
        positions.append(position)
        number, position = back[index][number][position]
    return _Found(attacks, ways[::-1], positions[::-1], total)
