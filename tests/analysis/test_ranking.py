"""The ranking, a best-first search over tables, held against the formula said plainly."""

from __future__ import annotations

import pickle
from math import log2

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.strategies import licks

from linewright.analysis import analyze
from linewright.analysis.frame import candidates, evidence
from linewright.analysis.ranking import Ranking
from linewright.analysis.weights import note_weights, treatments
from linewright.score import Lick
from linewright.theory import ChordSymbol, PitchClass

SOME = licks().filter(lambda lick: bool(lick.notes))
CHANCE = {"leading": 0.22, "owned": 0.12, "eased": 0.03, "resolved": 0.008, "bare": 0.003}


def plain_bits(lick: Lick, tonic: int, number: int, chord: ChordSymbol | None) -> float:
    """The two-part code of docs/analysis.md, note by note."""
    candidate = candidates[number]
    inside = {(tonic + s) % 12 for s in candidate.collection.semitones}
    size = len(inside)
    out = {note.midi % 12 for note in lick.notes if not note.has("dead")} - inside
    bits = candidate.bits
    for pc in out:
        is_colour = candidate.colour and (pc - tonic) % 12 == candidate.colour.added.semitones
        is_colour = is_colour and candidate.collection.family == "pentatonic"
        bits += 0.8 if is_colour else log2(12 - size) + 0.7
    for note, weight, kind in zip(lick.notes, note_weights(lick), treatments(lick), strict=True):
        if note.has("dead"):
            continue
        share, crowd = (
            (CHANCE[kind], len(out)) if note.midi % 12 in out else (1 - CHANCE[kind], size)
        )
        bits += weight * log2(crowd / share)
    if chord and chord.root.number == tonic and chord.numbers <= inside:
        bits -= 1.5
    elif chord and chord.root.number == tonic and candidate.collection.name.startswith("suspended"):
        bits += 1.5  # no third, over a chord that has one
    return bits


@settings(max_examples=20, deadline=None)
@given(
    SOME,
    st.lists(st.floats(0, 12), min_size=12, max_size=12),
    st.sampled_from([None, ChordSymbol(PitchClass("G"), "7"), ChordSymbol(PitchClass("D"), "m")]),
)
def test_ranking_is_the_plain_formula_sorted(
    lick: Lick, tonic_bits: list[float], chord: ChordSymbol | None
) -> None:
    ranked = list(Ranking(evidence(lick), tonic_bits, chord))
    assert len({(tonic, number) for _, tonic, number in ranked}) == 12 * len(candidates)
    for bits, tonic, number in ranked:
        expected = plain_bits(lick, tonic, number, chord) + tonic_bits[tonic]
        assert abs(bits - expected) < 1e-6
    assert ranked == sorted(ranked)
    assert sorted(Ranking(evidence(lick), tonic_bits, chord).on(7)) == [
        item for item in ranked if item[1] == 7
    ]


@settings(max_examples=20, deadline=None)
@given(SOME)
def test_readings_survive_pickling_and_compare_by_what_they_say(lick: Lick) -> None:
    analysis = analyze(lick)
    again = pickle.loads(pickle.dumps(analysis))
    assert again == analysis
    assert again.readings == analysis.readings
    assert analyze(lick).readings == analysis.readings
    assert len(set(analysis.readings)) == len(analysis.readings)
