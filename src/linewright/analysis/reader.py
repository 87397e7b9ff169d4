"""A lick in, one Analysis out."""

from __future__ import annotations

from collections.abc import Sequence

from linewright.analysis.cadence import cadence_degrees, home_tones
from linewright.analysis.facts import OutsideNote
from linewright.analysis.frame import (
    Candidate,
    Evidence,
    bit_set,
    candidates,
    confusions,
    evidence_of,
    is_usual,
    turned,
)
from linewright.analysis.harmony import degree_in_chord
from linewright.analysis.home import Home, inferred_bits, known_home
from linewright.analysis.model import Analysis, NoteFact
from linewright.analysis.outside import classify_outside
from linewright.analysis.prose import join_words
from linewright.analysis.ranking import Ranked, Ranking
from linewright.analysis.readings import Case, frame_on
from linewright.analysis.reasons import Heard
from linewright.analysis.spelling import name_degrees, respelled
from linewright.analysis.walk import walk_of
from linewright.analysis.weighing import Weighing
from linewright.analysis.weights import (
    Treatment,
    longest_chord,
    neighbours,
    note_weights,
    treatments,
)
from linewright.errors import MusicError
from linewright.score import Lick
from linewright.theory import (
    COLLECTIONS,
    ChordSymbol,
    Colour,
    Degree,
    Frame,
    PitchClass,
    spell_midi,
)

__all__ = ["analyze"]

#: Bits against a frame whose tonic is not the known one, by where the knowledge comes from.
_AWAY_BITS = {"given": 1000.0, "key": 12.0, "chords": 8.0}
#: More of the lick than this outside the best frame, by weight or number, and nothing fits.
_MOST_OUTSIDE = 0.34
#: More than this beside an arpeggio's own notes, by weight, and it is no arpeggio alone.
_MOST_BESIDE = 0.25
_STEPS = ("leading", "eased", "resolved")
#: A frame this many bits dearer than the cheapest is no answer, however well separated.
_MUCH_DEARER = 10.0


def analyze(lick: Lick, tonic: PitchClass | str | None = None) -> Analysis:
    """Say what a lick is made of.

    Parameters
    ----------
    lick : Lick
        With at least one note.
    tonic : PitchClass or str, optional
        The tonic to read it against; otherwise its key, its chords or its notes tell.

    Raises
    ------
    MusicError
        For a lick without notes or a tonic that is not a note name.

    Examples
    --------
    >>> from fractions import Fraction
    >>> from linewright.score import Meter, Note, bars_for
    >>> from linewright.theory import Pitch
    >>> tune = ["G4", "Bb4", "C5", "Bb4", "G4", "F4", "D4", "G4"]
    >>> notes = tuple(
    ...     Note(Fraction(i, 2), Fraction(1, 2), Pitch.parse(p)) for i, p in enumerate(tune)
    ... )
    >>> analyze(Lick(notes, bars_for(Meter(4, 4), Fraction(4))), "G").frame_name
    'G minor pentatonic'
    """
    if not lick.notes:
        raise MusicError(
            "there are no notes to read", accepted="Give a lick with at least one note"
        )
    given = PitchClass.parse(tonic) if isinstance(tonic, str) else tonic
    home = known_home(lick, given)
    weights, near = note_weights(lick), neighbours(lick)
    kinds = treatments(lick, near, home.tonic if home else None)
    found = evidence_of(lick, range(len(weights)), weights, kinds)
    if home is None:
        bits = inferred_bits(lick, found)
    else:
        away = _AWAY_BITS[home.source]
        bits = tuple([0.0 if pc == home.tonic.number else away for pc in range(12)])
    ranking = Ranking(found, bits, _home_chord(lick, home), _written(lick), _cadence(lick, home))
    weighing = Weighing(found, ranking, walk_of(lick, weights, near, kinds))
    winner = _winner(weighing, found, min(bits))

    if home is None:
        number = winner[1] if winner else min(range(12), key=lambda pc: bits[pc])
        home = _inferred_home(lick, number, winner)
    elif (
        home.source != "given"
        and not found.heard >> home.tonic.number & 1
        and not _is_home_chord(lick, home, found)
    ):
        arpeggio = _lone_arpeggio(lick, weights, kinds, weighing)
        if arpeggio is not None:
            winner = arpeggio
            home = _arpeggio_home(lick, winner, home)
    if winner is not None and winner[1] != home.tonic.number:
        # The notes outweigh what the key or the chords suggest.
        home = _inferred_home(lick, winner[1], winner)
    frame = colour = None
    if winner is not None:
        frame = _frame_of(winner, home)
        colour = _colour(candidates[winner[2]], turned(found.heard, winner[1]))

    degrees = name_degrees(lick, home.tonic, frame, near)
    if frame is not None or home.source != "inferred" or not lick.spelled:
        # Against a home that is only guessed, where nothing fits, what was written stays.
        lick = respelled(lick, home.tonic, degrees)
    facts = _facts(lick, degrees, frame, weights)
    outside = classify_outside(lick, facts, near, frame, colour) if frame else ()
    if colour is not None and not _is_coloured(colour, outside):
        colour = None
    case = Case(Heard(lick, degrees, weights), found, weighing, home.tonic, frame, colour, winner)
    return Analysis(
        lick=lick,
        tonic=home.tonic,
        tonic_source=home.source,
        tonic_reason=home.reason,
        frame=frame,
        colour=colour,
        outside_notes=outside,
        notes=facts,
        case=case,
    )


def _winner(weighing: Weighing, found: Evidence, tonic_bits: float) -> Ranked | None:
    """The cheapest frame on home that the heard notes separate from its equals, or None.

    Home is the tonic of the frame whose notes alone are cheapest (how the melody walks tells the
    frames on one tonic apart; a walk through a relative's frame is much the same walk): where the notes cannot tell the frames on it
    apart, one on another tonic is no answer.
    """
    weight, notes = sum(found.weight), sum(found.counts)
    limit = weighing.no_frame_bits() + tonic_bits
    for place, item in enumerate(weighing.cheapest(next(iter(weighing.ranking))[1])):
        bits, tonic, number = item
        if not place:
            limit = min(limit, bits + _MUCH_DEARER)
        if bits > limit:
            return None
        candidate = candidates[number]
        heard = turned(found.heard, tonic)
        inside = candidate.degrees
        if _colour(candidate, heard):
            inside |= candidate.colour_bit
        if (heard & inside).bit_count() < 3:
            continue
        outside = turned(found.sounding, tonic) & ~inside
        out = [pc for pc in range(12) if outside >> (pc - tonic) % 12 & 1]
        by_weight = sum([found.weight[pc] for pc in out]) / weight
        by_number = sum([found.counts[pc] for pc in out]) / notes
        if max(by_weight, by_number) > _MOST_OUTSIDE:
            continue
        if not is_usual(candidate.collection) and (
            _is_contradicted(candidate.degrees, heard)
            or (heard & candidate.degrees).bit_count() < candidate.degrees.bit_count() - 2
        ):
            continue
        if not confusions(candidate.collection, heard):
            return item
    return None


#: The two sizes of each degree that has them, in semitones: 2, 3, 6 and 7, and the two fourths.
_SIZES = ((1, 2), (3, 4), (5, 6), (8, 9), (10, 11))


def _is_contradicted(degrees: int, heard: int) -> bool:
    """Whether the lick plays a degree in the other size only: the 7 where the frame has a b7."""
    for small, large in _SIZES:
        for mine, other in ((small, large), (large, small)):
            if (
                degrees >> mine & 1
                and not heard >> mine & 1
                and heard >> other & 1
                and not degrees >> other & 1
            ):
                return True
    return False


def _is_home_chord(lick: Lick, home: Home, found: Evidence) -> bool:
    """Whether the lick plays the chord on home, though not its root: 3 5 7 of Cmaj7."""
    chord = _home_chord(lick, home)
    return chord is not None and not found.heard & ~bit_set(chord.numbers)


def _lone_arpeggio(
    lick: Lick, weights: Sequence[float], kinds: Sequence[Treatment], weighing: Weighing
) -> Ranked | None:
    """The arpeggio that a lick without its home plays from end to end, or None: every one of its
    notes, and others only as steps into or between them, no more than a quarter by weight.

    Its root is that of the chord which holds longest, or the last or the first note.
    """
    chord = longest_chord([(s.symbol, s.duration) for s in lick.chords if s.symbol is not None])
    roots = [chord.root.number] if chord else []
    roots += [lick.notes[lick.melody[at]].midi % 12 for at in (-1, 0)]
    midis, most = lick.grid.midis, _MOST_BESIDE * sum(weights)
    for root in roots:
        heard = bit_set((midi - root) % 12 for midi in midis)
        found: list[tuple[int, Ranked]] = []
        for number, candidate in enumerate(candidates):
            if not candidate.collection.is_arpeggio or candidate.degrees & ~heard:
                continue
            beside = [
                k for k, m in enumerate(midis) if not candidate.degrees >> (m - root) % 12 & 1
            ]
            if all(kinds[k] in _STEPS for k in beside) and sum(weights[k] for k in beside) <= most:
                size = candidate.degrees.bit_count()
                found.append((-size, (weighing.bits(root, number), root, number)))
        if found:
            return min(found)[1]
    return None


def _arpeggio_home(lick: Lick, winner: Ranked, silent: Home) -> Home:
    _, number, place = winner
    tonic = _spell_tonic(lick, number, candidates[place])
    whose = "the written key's tonic" if silent.source == "key" else "where its chords are at home"
    reason = f"{tonic} is home here: it plays one chord on it, and never {silent.tonic}, {whose}"
    return Home(tonic, "inferred", reason)


def _inferred_home(lick: Lick, number: int, winner: Ranked | None) -> Home:
    tonic = _spell_tonic(lick, number, candidates[winner[2]] if winner else None)
    last = lick.notes[lick.melody[-1]]
    longest = max(lick.notes, key=lambda n: n.duration)
    why = []
    ends = last.midi % 12 == number
    if lick.notes[lick.melody[0]].midi % 12 == number:
        why.append("the phrase begins and ends on it" if ends else "the phrase begins on it")
    elif ends:
        why.append("the phrase ends on it")
    if longest.midi % 12 == number and longest.duration > last.duration:
        why.append("holds it longest" if why else "the longest note is on it")
    reason = join_words(why) if why else "the notes lean on it more than on any other"
    if winner is None and not ends:  # nothing fits, nor does the phrase come to rest on it
        return Home(tonic, "inferred", f"no note is clearly home; the notes lean most on {tonic}")
    return Home(tonic, "inferred", f"{tonic} is home: {reason}")


def _spell_tonic(lick: Lick, number: int, candidate: Candidate | None) -> PitchClass:
    """Spell an inferred tonic as the lick spells it, else with the fewest sharps or flats."""
    if lick.spelled:
        for note in lick.notes:
            if note.midi % 12 == number and abs(note.pitch.alter) < 2:
                return note.pitch.pitch_class
    names = {spell_midi(60 + number, c).pitch_class for c in (-3, 2, 7)}
    if candidate is None:
        return spell_midi(60 + number).pitch_class
    return min(
        names,
        key=lambda pc: (
            pc.name in ("B#", "E#", "Cb", "Fb"),
            sum(abs(n.alter) for n in Frame(pc, candidate.collection).pitch_classes),
            pc.fifths,
        ),
    )


def _frame_of(winner: Ranked, home: Home) -> Frame:
    _, number, candidate = winner
    tonic = home.tonic if number == home.tonic.number else spell_midi(60 + number).pitch_class
    return frame_on(tonic.step, tonic.alter, candidate)


def _colour(candidate: Candidate, heard: int) -> Colour | None:
    """The named scale when the heard notes are the collection's and exactly its colour note.

    The major 3rd that owns up to a dominant chord does not stop a blues from being one.
    """
    left = heard & ~candidate.degrees
    if candidate.collection.name == "minor pentatonic":
        left &= ~(1 << 4)
    return candidate.colour if candidate.colour_bit and left == candidate.colour_bit else None


#: What a colour note may do and still be one: a bebop scale's is passed through, no more.
_COLOURFUL = frozenset(("passing", "neighbour", "approach", "enclosure", "blue note"))


def _is_coloured(colour: Colour, outside: Sequence[OutsideNote]) -> bool:
    """Whether every colour note does what a colour note does."""
    allowed = _COLOURFUL if colour.name in ("blues", "major blues") else {"passing"}
    own = colour.added.semitones
    return all(note.function in allowed for note in outside if note.degree.semitones == own)


def _written(lick: Lick) -> tuple[int, int] | None:
    """Tonic number and degrees of the scale the written key names."""
    if lick.key is None:
        return None
    name = {"minor": "natural minor", "aeolian": "natural minor", "ionian": "major"}.get(
        lick.key.mode, lick.key.mode
    )
    return lick.key.tonic.number, bit_set(COLLECTIONS[name].semitones)


def _cadence(lick: Lick, home: Home | None) -> tuple[int, int] | None:
    """Number of a known tonic, and the degrees of the chords' cadence on it and of its own chord
    that say which scale it has.
    """
    if home is None:
        return None
    return home.tonic.number, bit_set(
        cadence_degrees(lick, home.tonic) | home_tones(lick, home.tonic)
    )


def _home_chord(lick: Lick, home: Home | None) -> ChordSymbol | None:
    """The chord on a known tonic that holds longest, if one is written."""
    if home is None:
        return None
    tonic = home.tonic.number
    return longest_chord(
        [
            (span.symbol, span.duration)
            for span in lick.chords
            if span.symbol is not None and span.symbol.root.number == tonic
        ]
    )


def _facts(
    lick: Lick, degrees: Sequence[Degree], frame: Frame | None, weights: Sequence[float]
) -> tuple[NoteFact, ...]:
    facts = []
    inside = frame.numbers if frame else frozenset(range(12))
    count, grid = len(weights), lick.grid
    for index, (note, degree, chord) in enumerate(
        zip(lick.notes, degrees, grid.chords, strict=True)
    ):
        pitch = note.pitch
        chord_degree = None if chord is None else degree_in_chord(pitch.pitch_class, chord)
        facts.append(
            NoteFact(
                index,
                pitch,
                degree,
                chord,
                chord_degree,
                grid.midis[index] % 12 not in inside and not note.has("dead"),
                weights[index] / count,
            )
        )
    return tuple(facts)
