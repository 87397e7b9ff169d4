"""Our ABC reader and writer against abc2midi, which symusic's wheel carries.

The full comparison over 4,248 tunes is ``python -m benchmarks.abc_agreement``; its figures and
the causes of every difference are in docs/abc.md. Here: a seeded sample of it, small cases of each
rule, and what our writer writes.
"""

from __future__ import annotations

import random

import pytest
from benchmarks.abc_agreement import WAYS, cases, compare, our_pitches, reference, sequence
from hypothesis import given, seed, settings

from linewright.formats.abc import write_abc
from linewright.score import Lick
from strategies import PLAIN_METERS, licks

pytest.importorskip("symusic")

HEAD = "X:1\nT:t\nM:4/4\nL:1/8\nK:{key}\n"


def test_a_sample_of_three_old_collections() -> None:
    chosen = random.Random(1778).sample(list(cases()), 150)
    verdicts = compare(chosen)
    as_it_is = sum(verdict.way == WAYS[0] for verdict in verdicts)
    differing = [(c.title, v.words) for c, v in zip(chosen, verdicts, strict=True) if not v.way]
    assert len(differing) <= 3, differing  # 98 %
    assert as_it_is >= 138  # 97 % over the whole; 92 % leaves room for this sample


CASES = {
    "accidental in other octaves": ("C", "^c c' C|c _B b|b"),
    "accidental in a grace": ("C", "{^c}d c|c"),
    "tie carries its accidental": ("C", "A4 ^c4-|c2 c2|"),
    "double accidentals": ("C", "^^f __e|=f _g"),
    "dorian": ("Ador", "A B c d e f g a"),
    "phrygian": ("E Phrygian", "E F G A"),
    "lydian": ("Flyd", "F G A B"),
    "locrian": ("Bloc", "B c d e f"),
    "mixolydian, glued": ("Dmixm", "F c"),
    "capital M is minor": ("EM", "F G c"),
    "added accidental": ("D =c", "F c C"),
    "explicit accidentals": ("D exp _b", "F B c"),
    "highland pipes": ("HP", "F C G A"),
    "no key": ("none", "F C B"),
    "octave clef": ("C clef=treble-8", "C E G"),
    "octave setting": ("C octave=-1", "C E G"),
    "transposed": ("C transpose=2", "C E G"),
    "key change inside a line": ("C", "F [K:D] F C|[L:1/4] F"),
    "chords of notes": ("C", "[CEG]2 [C2E2G2] [ce]/"),
    "tied chord": ("C", "[ce]4-[ce]4|"),
    "broken rhythm round a grace and a chord": ("C", "A>{c}B [CE]<d e>>f"),
    "tuplets": ("C", "(3ABc (2AB (4ABcd (5:4:5ABcde (3:2:2c2d"),
    "first and second ending": ("C", "|:CD|1EF:|2GA|]B"),
    "missing start": ("C", "CDEF:|GABc:|"),
    "double sign": ("C", "CDEF::GABc:|"),
    "start after a double bar": ("C", "|:CD:|EF||GA:|"),
    "three endings": ("C", "|:C[1,3D:|[2E:|[4F|]"),
    "rests and spaces": ("C", "A z B x2 c y d"),
    "whole-bar rest": ("C", "A8|Z2|B8|"),
    "old decorations": ("C", "A !f!B +p+c !>!d"),
    "quoted words": ("C", '"^up"A "_x"B "4"c'),
}


def test_small_cases_of_each_rule() -> None:
    texts = [HEAD.format(key=key) + body + "\n" for key, body in CASES.values()]
    expected = reference(texts)
    found = [our_pitches(text) for text in texts]
    different = {
        name: (ours, theirs)
        for name, ours, theirs in zip(CASES, found, expected, strict=True)
        if ours != theirs
    }
    assert not different


def test_parts_are_played_in_the_order_of_the_header() -> None:
    text = "X:1\nP:ABA\nM:4/4\nL:1/8\nK:C\nP:A\nCDEF|\nP:B\nGABc:|\n"
    assert our_pitches(text) == reference([text])[0]


def test_what_we_write_plays_as_the_lick() -> None:
    written: list[tuple[str, list[int]]] = []

    @seed(21)
    @settings(max_examples=120, deadline=None, database=None)
    @given(
        licks(
            meters=PLAIN_METERS,
            changes=False,
            marks=(),
            graces=False,
            declared_key=True,
            tempo=False,
            chords=False,
        )
    )
    def collect(lick: Lick) -> None:
        if lick.notes:
            written.append((write_abc(lick), sequence(lick)))

    collect()
    answers = reference([text for text, _ in written])
    wrong = [
        (text, pitches, answer)
        for (text, pitches), answer in zip(written, answers, strict=True)
        if answer != pitches
    ]
    assert not wrong
