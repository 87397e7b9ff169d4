"""A lick in, one Analysis out."""

from __future__ import annotations

from fractions import Fraction

from linewright.analysis.frame import (
    Candidate,
    Evidence,
    confused_with,
    evidence,
    no_frame_bits,
    rank,
)
from linewright.analysis.home import Home, known_home
from linewright.analysis.model import Analysis, NoteFact, Reading
from linewright.analysis.outside import classify_outside
from linewright.analysis.reasons import (
    Heard,
    chosen_reason,
    join_words,
    possible_reason,
    rejected_reason,
)
from linewright.analysis.spelling import name_degrees, respelled
from linewright.analysis.tonic import tonic_bits
from linewright.analysis.weights import neighbours, note_weights
from linewright.errors import MusicError
from linewright.score import Lick
from linewright.theory import (
    COLOURS,
    ChordSymbol,
    Collection,
    Colour,
    Degree,
    Frame,
    PitchClass,
    degree_of,
    spell_midi,
)

__all__ = ["analyze"]

#: Bits against a frame whose tonic is not the known one, by where the knowledge comes from.
_AWAY_BITS = {"given": 1000.0, "key": 9.0, "chords": 8.0}
#: More of the lick than this outside the best frame, by weight or number, and nothing fits.
_MOST_OUTSIDE = 0.34
#: Readings listed on other tonics, and the bits within which a rival stays possible.
_OTHER_TONICS = 12
_POSSIBLE_BITS = 2.0


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
    found = evidence(lick)
    home = known_home(lick, given)
    if home is None:
        bits = tonic_bits(lick)
    else:
        away = _AWAY_BITS[home.source]
        bits = tuple(0.0 if pc == home.tonic.number else away for pc in range(12))
    ranked = rank(found, bits, _home_chord(lick, home))
    winner = _winner(ranked, found, no_frame_bits(found) + min(bits))

    if home is None:
        number = winner[1] if winner else min(range(12), key=lambda pc: bits[pc])
        home = _inferred_home(lick, number, winner[2] if winner else None)
    if winner is not None and winner[1] != home.tonic.number and home.source == "chords":
        # The notes outweigh what the chords suggest.
        home = _inferred_home(lick, winner[1], winner[2])
    frame = _frame_of(winner, home)
    colour = None
    if frame is not None:
        colour = _colour(
            frame.collection, frozenset((pc - frame.tonic.number) % 12 for pc in found.heard)
        )

    near = neighbours(lick)
    degrees = name_degrees(lick, home.tonic, frame, near)
    lick = respelled(lick, home.tonic, degrees)
    facts = _facts(lick, degrees, frame)
    heard = Heard(lick, degrees)
    outside = classify_outside(lick, facts, near, frame, colour) if frame else ()
    readings = _readings(lick, heard, ranked, home, frame, colour)
    return Analysis(
        lick=lick,
        tonic=home.tonic,
        tonic_source=home.source,
        tonic_reason=home.reason,
        frame=frame,
        colour=colour,
        verdict=_verdict(heard, readings, frame, colour, home),
        readings=readings,
        outside_notes=outside,
        notes=facts,
    )


_Ranked = tuple[float, int, Candidate]


def _winner(ranked: list[_Ranked], found: Evidence, limit: float) -> _Ranked | None:
    """The cheapest frame that the heard notes separate from its equals, or None."""
    for item in ranked:
        bits, tonic, candidate = item
        if bits > limit:
            return None
        heard = frozenset((pc - tonic) % 12 for pc in found.heard)
        inside = set(candidate.semitones)
        colour = _colour(candidate.collection, heard)
        if colour:
            inside.add(colour.added.semitones)
        out = [pc for pc in found.sounding if (pc - tonic) % 12 not in inside]
        by_weight = sum(found.weight[pc] for pc in out) / sum(found.weight)
        by_number = sum(found.counts[pc] for pc in out) / sum(found.counts)
        if max(by_weight, by_number) > _MOST_OUTSIDE or len(heard & inside) < 3:
            continue
        if not confused_with(candidate.collection, heard):
            return item
    return None


def _inferred_home(lick: Lick, number: int, candidate: Candidate | None) -> Home:
    tonic = _spell_tonic(lick, number, candidate)
    last = lick.notes[lick.melody[-1]]
    longest = max(lick.notes, key=lambda n: n.duration)
    why = []
    if last.midi % 12 == number:
        why.append("the phrase ends on it")
    if lick.notes[0].midi % 12 == number:
        why.append("begins on it" if why else "the phrase begins on it")
    if longest.midi % 12 == number and longest.duration > last.duration:
        why.append("holds it longest" if why else "the longest note is on it")
    reason = join_words(why) if why else "the notes lean on it more than on any other"
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
            sum(abs(n.alter) for n in Frame(pc, candidate.collection).pitch_classes),
            pc.fifths,
        ),
    )


def _frame_of(winner: _Ranked | None, home: Home) -> Frame | None:
    if winner is None:
        return None
    _, number, candidate = winner
    tonic = home.tonic if number == home.tonic.number else spell_midi(60 + number).pitch_class
    return Frame(tonic, candidate.collection)


def _colour(item: Collection, heard: frozenset[int]) -> Colour | None:
    """The named scale when the heard notes are the collection's and exactly its colour note."""
    left = heard - frozenset(item.semitones)
    for colour in COLOURS:
        if colour.frame == item.name and left == {colour.added.semitones}:
            return colour
    return None


def _home_chord(lick: Lick, home: Home | None) -> ChordSymbol | None:
    """The chord on a known tonic that holds longest, if one is written."""
    if home is None:
        return None
    spans: dict[ChordSymbol, Fraction] = {}
    for span in lick.chords:
        if span.symbol is not None and span.symbol.root.number == home.tonic.number:
            spans[span.symbol] = spans.get(span.symbol, Fraction(0)) + span.duration
    return max(spans, key=lambda symbol: spans[symbol]) if spans else None


def _facts(lick: Lick, degrees: tuple[Degree, ...], frame: Frame | None) -> tuple[NoteFact, ...]:
    weights = note_weights(lick)
    facts = []
    for index, (note, degree) in enumerate(zip(lick.notes, degrees, strict=True)):
        chord = lick.chord_at(note.onset)
        facts.append(
            NoteFact(
                index=index,
                pitch=note.pitch,
                degree=degree,
                chord=chord,
                chord_degree=_chord_degree(note.pitch.pitch_class, chord) if chord else None,
                is_outside=frame is not None and note.midi % 12 not in frame.numbers,
                weight=weights[index] / len(weights),
            )
        )
    return tuple(facts)


def _chord_degree(note: PitchClass, chord: ChordSymbol) -> Degree:
    semitones = (note.number - chord.root.number) % 12
    for degree in chord.degrees:
        if degree.semitones == semitones:
            return degree
    return degree_of(note, chord.root)


def _readings(
    lick: Lick,
    heard: Heard,
    ranked: list[_Ranked],
    home: Home,
    frame: Frame | None,
    colour: Colour | None,
) -> tuple[Reading, ...]:
    readings = []
    numbers = [note.midi % 12 for note in lick.notes]
    others = 0
    best: dict[tuple[int, str], float] = {}
    for bits, number, candidate in ranked:
        key = (number, candidate.collection.name)
        best.setdefault(key, bits)
    chosen_bits = best[(frame.tonic.number, frame.collection.name)] if frame else min(best.values())
    seen: set[tuple[int, str]] = set()
    for bits, number, candidate in ranked:
        key = (number, candidate.collection.name)
        if key in seen:
            continue
        seen.add(key)
        on_home = number == home.tonic.number
        is_chosen = frame is not None and key == (frame.tonic.number, frame.collection.name)
        if not on_home and not is_chosen:
            if others >= _OTHER_TONICS:
                continue
            others += 1
        tonic = home.tonic if on_home else _other_tonic(lick, number)
        one = Frame(tonic, candidate.collection)
        outside = tuple(i for i, pc in enumerate(numbers) if pc not in one.numbers)
        heard_here = {(pc - number) % 12 for pc in numbers}
        verdict, reason = _judge(
            heard, one, frame, colour, outside, home, is_chosen, bits - chosen_bits
        )
        readings.append(
            Reading(
                frame=one,
                verdict=verdict,  # type: ignore[arg-type]
                reason=reason,
                heard=tuple(d for d in one.collection.degrees if d.semitones in heard_here),
                unheard=tuple(d for d in one.collection.degrees if d.semitones not in heard_here),
                outside=outside,
                score=round(bits, 3),
            )
        )
    order = {"chosen": 0, "possible": 1, "ruled out": 2}
    readings.sort(key=lambda r: (order[r.verdict], r.score))
    return tuple(readings)


def _other_tonic(lick: Lick, number: int) -> PitchClass:
    for note in lick.notes:
        if note.midi % 12 == number:
            return note.pitch.pitch_class
    return spell_midi(60 + number).pitch_class


def _judge(
    heard: Heard,
    one: Frame,
    frame: Frame | None,
    colour: Colour | None,
    outside: tuple[int, ...],
    home: Home,
    is_chosen: bool,
    behind: float,
) -> tuple[str, str]:
    lick = heard.lick
    if is_chosen:
        return "chosen", chosen_reason(heard, one, colour, outside)
    if one.tonic.number == home.tonic.number:
        is_open = (
            frame is not None
            and behind < _POSSIBLE_BITS
            and {lick.notes[i].midi % 12 for i in outside} < _outside_numbers(lick, frame)
            and not confused_with(one.collection, heard.semitones)
        )
        if is_open and frame is not None:
            return "possible", possible_reason(heard, one, frame)
        return "ruled out", rejected_reason(heard, one, frame)
    if frame is not None and one.numbers == frame.numbers:
        return (
            "ruled out",
            f"not {one.name}: the same notes, but home is {home.tonic}",
        )
    left = list(dict.fromkeys(heard.lick.notes[i].pitch.pitch_class.name for i in outside))
    if left:
        shown = join_words(left[:3]) + (" and more" if len(left) > 3 else "")
        return "ruled out", f"not {one.name}: it leaves out {shown}"
    return "ruled out", f"not {one.name}: home is {home.tonic}, not {one.tonic}"


def _outside_numbers(lick: Lick, frame: Frame) -> set[int]:
    return {note.midi % 12 for note in lick.notes} - frame.numbers


def _verdict(
    heard: Heard,
    readings: tuple[Reading, ...],
    frame: Frame | None,
    colour: Colour | None,
    home: Home,
) -> str:
    if frame is not None:
        chosen = next(r for r in readings if r.verdict == "chosen")
        name = frame.name if colour is None else f"{frame.name} with the {colour.added}"
        return f"It hangs on {name}: {chosen.reason}."
    names = list(dict.fromkeys(d.name for d in sorted(heard.degrees, key=lambda d: d.semitones)))
    if len(names) < 3:
        return (
            f"Nothing can be named: only {join_words(names)} of {home.tonic}"
            f" {'is' if len(names) == 1 else 'are'} heard, and many scales hold"
            f" {'it' if len(names) == 1 else 'them'}."
        )
    return (
        f"Nothing fits: against {home.tonic} it plays {join_words(names)}, and no plain scale or"
        " arpeggio explains enough of that to be named."
    )
