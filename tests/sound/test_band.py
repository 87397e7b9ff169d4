"""The band: voicings, bass lines, rhythm, click and passes.

What shapes and lines are held against is common practice, named beside each check.
"""

from fractions import Fraction
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.errors import MusicError, OptionError
from linewright.fretboard import INSTRUMENTS, instrument
from linewright.score import Bar, ChordSpan, Lick, Meter, Note, Tempo
from linewright.score.meter import bars_for
from linewright.score.performance import Part, Stroke
from linewright.sound.band import (
    CLICKS,
    STYLES,
    Changes,
    ClickPlan,
    band_parts,
    performance_of,
    usual_style,
)
from linewright.sound.band.bass import HIGHEST, LOWEST
from linewright.sound.band.click import bar_clicks, click_part, count_in_clicks, count_in_length
from linewright.sound.band.passes import passes_of, turn
from linewright.sound.band.pieces import pieces
from linewright.sound.band.voicings import KINDS, between, fingers, voicings, voicings_through
from linewright.theory import QUALITIES, ChordSymbol, Pitch

GUITAR = instrument("guitar")
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
symbols = st.builds(
    lambda root, quality: ChordSymbol.parse(root + quality),
    st.sampled_from(ROOTS),
    st.sampled_from(sorted(QUALITIES)),
)


def changes(text: str, meter: str = "4/4", swing: Fraction | None = None) -> Changes:
    """Chords as in ``C | F G | N.C.``, those of a bar sharing it."""
    measure = Meter.parse(meter)
    spans = []
    bars = [bar.split() for bar in text.split("|")]
    for number, names in enumerate(bars):
        length = measure.length / len(names)
        for place, name in enumerate(names):
            symbol = None if name == "N.C." else ChordSymbol.parse(name)
            spans.append(ChordSpan(number * measure.length + place * length, length, symbol))
    return Changes(bars_for(measure, measure.length * len(bars)), tuple(spans), swing)


def frets(voicing) -> str:
    """A shape as players write it, low string first."""
    at = {place.string: str(place.fret) for place in voicing.places}
    return "".join(at.get(string, "x") for string in range(6, 0, -1))


# -- voicings ------------------------------------------------------------------------------
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("quality", QUALITIES)
def test_every_quality_has_shapes_that_say_what_it_is(quality, kind):
    chord = ChordSymbol.parse("Eb" + quality)
    numbers = {d.name: (chord.root.number + d.semitones) % 12 for d in chord.degrees}
    for name in ("guitar", "mandolin", "tenor banjo", "ukulele"):
        neck = instrument(name)
        for shape in voicings(chord, neck, kind):
            heard = {midi % 12 for midi in shape.midis}
            assert heard <= set(numbers.values())
            # guide tones: third (or what stands for it), seventh or sixth (common practice)
            for group in (("3", "b3", "4", "2"), ("b7", "7", "bb7", "6")):
                told = [numbers[degree] for degree in group if degree in numbers]
                assert not told or told[0] in heard
            strings = [place.string for place in shape.places]
            assert len(set(strings)) == len(strings)
            assert shape.span <= 4
            assert fingers(shape.places) <= 4
            assert shape.midis == tuple(neck.midi_at(*place) for place in shape.places)


@pytest.mark.parametrize(
    ("symbol", "shape"),
    [("Em", "022000"), ("E", "022100"), ("D", "xx0232"), ("Am", "x02210"), ("F", "133211"), ("C", "x32010"),
     ("A", "x02220"), ("Dm", "xx0231"), ("Bm", "x24432")],
)  # fmt: skip
def test_the_shapes_every_method_teaches_are_found(symbol, shape):
    """First-position and barre shapes of any guitar method (common practice)."""
    found = [frets(v) for v in voicings(ChordSymbol.parse(symbol), GUITAR, "open")]
    assert shape in found[:8]


@settings(max_examples=30, deadline=None)
@given(st.lists(symbols, min_size=1, max_size=3), st.sampled_from(KINDS))
def test_the_way_through_is_the_cheapest_of_all(chords, kind):
    path = voicings_through(chords, GUITAR, kind)

    def cost(shapes):
        return sum(s.cost for s in shapes) + sum(between(a, b) for a, b in pairwise(shapes))

    every = product(*(voicings(chord, GUITAR, kind) for chord in chords))
    assert cost(path) == pytest.approx(min(map(cost, every)))


def test_voices_of_a_two_five_one_move_by_steps():
    """Common practice: the guide tones of ii-V-I fall by step, so the top moves little."""
    path = voicings_through([ChordSymbol.parse(c) for c in ("Dm7", "G7", "Cmaj7")], GUITAR, "small")
    for one, two in pairwise(path):
        assert abs(one.midis[-1] - two.midis[-1]) <= 2
        assert abs(one.fret - two.fret) <= 2


def test_an_unknown_kind_is_refused():
    with pytest.raises(MusicError, match="no kind of voicing"):
        voicings(ChordSymbol.parse("C"), GUITAR, "huge")


# -- the bass ------------------------------------------------------------------------------
@settings(max_examples=40, deadline=None)
@given(st.lists(st.lists(symbols, min_size=1, max_size=2), min_size=1, max_size=6))
def test_a_walking_line_keeps_the_rules(bars):
    """Roots where chords begin, chord tones on strong beats, a lead into each change."""
    text = " | ".join(" ".join(chord.text for chord in bar) for bar in bars)
    ground = changes(text)
    bass = band_parts(ground, "swing")[1].strokes
    assert [s.onset for s in bass] == [Fraction(beat) for beat in range(4 * len(bars))]
    neck = instrument("bass")
    before = None
    for stroke, after in zip(bass, [*bass[1:], None], strict=True):
        chord = ground.chord_at(stroke.onset)
        assert LOWEST <= stroke.midi <= HIGHEST
        assert neck.midi_at(stroke.string, stroke.fret) == stroke.midi
        if chord != before:
            assert stroke.midi % 12 == chord.root.number
        elif stroke.onset % 2 == 0:
            assert stroke.midi % 12 in chord.numbers
        if after is not None and ground.chord_at(after.onset) != chord and chord == before:
            assert abs(after.midi - stroke.midi) in (1, 2, 5, 7)
        before = chord


def test_a_walking_line_moves_mostly_by_step_and_never_stands_still():
    line = [s.midi for s in band_parts(changes("F7 | Bb7 | F7 | F7 | C7 | F7"), "swing")[1].strokes]
    sizes = [abs(a - b) for a, b in pairwise(line)]
    assert all(sizes)
    assert sum(size <= 2 for size in sizes) >= len(sizes) / 2
    assert max(sizes) <= 9


def test_boom_chick_alternates_root_and_fifth_and_runs_into_the_next_chord():
    """Bass-and-strum of any bluegrass rhythm method (common practice)."""
    guitar, bass = band_parts(changes("G | G | C"), "boom-chick")
    names = [(s.onset, s.midi % 12) for s in bass.strokes]
    assert names[:3] == [(0, 7), (2, 2), (4, 7)]
    assert (8, 0) in names
    run = [midi for onset, midi in names if 4 < onset < 8]
    assert run[-1] in (11, 10)  # into C from below, by a step
    strums = {s.onset for s in guitar.strokes if s.string == 1}
    assert strums
    assert all(int(onset) % 2 == 1 for onset in strums)


def test_slash_chords_have_their_bass():
    assert band_parts(changes("C/E | F"), "boom-chick")[1].strokes[0].midi % 12 == 4


# -- rhythm --------------------------------------------------------------------------------
@pytest.mark.parametrize("style", STYLES)
@pytest.mark.parametrize("meter", ["4/4", "2/2", "3/4", "6/8", "9/8", "12/8", "2/4", "5/4", "7/8", "3+2+2/8"])  # fmt: skip
def test_every_style_plays_in_every_meter(style, meter):
    ground = changes("G | C D7 | N.C. | G", meter)
    length = ground.bars[0].duration
    for part in band_parts(ground, style):
        assert part.strokes
        bars = {s.onset // length for s in part.strokes}
        assert bars == {0, 1, 3}  # no chord, no sound
        last: dict[int, Fraction] = {}
        for stroke in part.strokes:
            assert stroke.end <= ground.bars[-1].end
            assert not 2 * length < stroke.end <= 3 * length
            assert last.get(stroke.string, Fraction(0)) <= stroke.onset
            last[stroke.string] = stroke.end


def test_chords_say_what_they_are_wherever_they_are_struck():
    ground = changes("Dm7 G7 | Cmaj7 A7b9")
    guitar = band_parts(ground, "swing")[0]
    for span in ground.spans:
        struck = {s.midi % 12 for s in guitar.strokes if span.onset <= s.onset < span.end}
        assert struck <= span.symbol.numbers
        assert (span.symbol.root.number + (3 if span.symbol.quality == "m7" else 4)) % 12 in struck


def test_swing_moves_the_short_of_a_shuffle_to_two_thirds():
    guitar = band_parts(changes("E7", swing=Fraction(2)), "shuffle", quarter_bpm=Fraction(120))[0]
    downs = {s.onset % 1 for s in guitar.strokes if s.string == 1}
    ups = min(s.onset for s in guitar.strokes if 0.5 < s.onset < 1)
    assert ups == Fraction(2, 3)
    assert Fraction(1, 2) not in downs


def test_the_pickup_is_left_to_the_lead():
    bars = bars_for(Meter(4, 4), Fraction(9), pickup=Fraction(1))
    ground = Changes(bars, (ChordSpan(Fraction(0), Fraction(9), ChordSymbol.parse("G")),))
    assert all(p.strokes[0].onset == 1 for p in band_parts(ground, "boom-chick"))


def test_a_seed_is_human_and_repeats():
    ground = changes("G | C")
    one, two = (band_parts(ground, "swing", seed=3) for _ in range(2))
    assert one == two
    exact = band_parts(ground, "swing")
    moved = [a.onset - b.onset for a, b in zip(one[1].strokes, exact[1].strokes, strict=True)]
    assert any(moved)
    assert all(abs(by) <= Fraction(1, 50) for by in moved)


def test_what_cannot_be_is_refused():
    with pytest.raises(OptionError, match="no band style"):
        band_parts(changes("C"), "polka-metal")
    with pytest.raises(OptionError, match="no chords"):
        band_parts(changes("N.C."), "swing")
    assert INSTRUMENTS  # the table the voicings are laid on


# -- the click and the passes --------------------------------------------------------------
def lick(bars, onsets=((0, 1),), **more) -> Lick:
    notes = tuple(Note(Fraction(a), Fraction(b), Pitch.parse("G3")) for a, b in onsets)
    return Lick(notes, tuple(bars), **more)


@pytest.mark.parametrize(
    ("meter", "pattern", "onsets"),
    [
        ("4/4", "beats", [0, 1, 2, 3]),
        ("4/4", "2and4", [1, 3]),
        ("4/4", "divided", [Fraction(i, 2) for i in range(8)]),
        ("6/8", "beats", [0, Fraction(3, 2)]),
        ("6/8", "divided", [Fraction(i, 2) for i in range(6)]),
        ("3/4", "2and4", [1]),
        ("2/2", "divided", [0, Fraction(1, 2), 1, Fraction(3, 2), 2, Fraction(5, 2), 3, Fraction(7, 2)]),
    ],
)  # fmt: skip
def test_the_click_falls_where_it_is_counted(meter, pattern, onsets):
    strokes = bar_clicks(Meter.parse(meter), pattern)
    assert [s.onset for s in strokes] == onsets
    assert [s.attack == "accent click" for s in strokes] == [onset == 0 for onset in onsets]


def test_the_click_drops_out_for_bars_at_a_time():
    bars = bars_for(Meter(4, 4), Fraction(24))
    part = click_part(bars, ClickPlan("beats", sound=2, silent=1))
    assert sorted({int(s.onset // 4) for s in part.strokes}) == [0, 1, 3, 4]


@pytest.mark.parametrize(
    ("pickup", "count", "length"), [(0, 1, 4), (0, 2, 8), (1, 1, 3), (1, 2, 7), (Fraction(3, 2), 1, Fraction(5, 2))]
)  # fmt: skip
def test_a_count_in_lets_the_pickup_fall_right(pickup, count, length):
    """One bar counted before a pickup of one beat is three clicks, the pickup on four."""
    bars = bars_for(Meter(4, 4), 4 + Fraction(pickup), pickup=Fraction(pickup))
    assert count_in_length(bars, count) == length
    clicks = count_in_clicks(bars, count)
    assert [s.onset for s in clicks] == list(range(4 * count))
    assert clicks[-1].onset + 1 == length + Fraction(pickup)  # then the first bar line


def test_passes_keep_the_meter():
    full = bars_for(Meter(4, 4), Fraction(9), pickup=Fraction(1))
    assert turn(lick(full)) == -1  # the pickup falls into the empty end of the last bar
    assert turn(lick(full, [(0, 1), (8, 1)])) == 3  # which is taken here, so a bar is filled up
    short = (*full[:-1], Bar(2, Fraction(5), Fraction(3), Meter(4, 4)))
    assert turn(lick(short)) == 0  # what the pickup has, the last bar lacks
    assert turn(lick(bars_for(Meter(4, 4), Fraction(8)))) == 0
    laid = passes_of(lick(full), loops=3, count_in=1)
    assert laid.starts == (3, 11, 19)
    downbeats = [bar.onset for bar in laid.bars(lick(full)) if bar.number]
    assert downbeats == [4, 8, 12, 16, 20, 24]


@pytest.mark.parametrize(
    ("style", "meter", "tempo", "swing", "name"),
    [
        ("waltz", "3/4", 120, None, "waltz"),
        ("swing", "4/4", 140, 2, "swing"),
        ("shuffle", "4/4", 116, 2, "shuffle"),
        ("slow blues", "12/8", 54, None, "shuffle"),
        ("jig", "6/8", 108, None, "jig"),
        ("ballad", "4/4", 60, None, "ballad"),
        ("bluegrass", "2/4", 80, None, "boom-chick"),
        (None, "4/4", 100, None, "boom-chick"),
        (None, "7/8", 100, None, "plain"),
    ],
)
def test_the_usual_style_suits_meter_swing_and_name(style, meter, tempo, swing, name):
    measure = Meter.parse(meter)
    made = lick(
        bars_for(measure, measure.length),
        style=style,
        tempo=Tempo(Fraction(tempo), measure.beat),
        swing=Fraction(swing) if swing else None,
    )
    assert usual_style(made).name == name


def test_click_plans_are_checked():
    assert set(CLICKS) == {"beats", "divided", "2and4"}
    for wrong in ({"pattern": "nine"}, {"sound": 0}, {"silent": -1}):
        with pytest.raises(OptionError):
            ClickPlan(**wrong)


# -- the whole -----------------------------------------------------------------------------
def test_a_performance_has_lead_band_click_and_count_in():
    bars = bars_for(Meter(4, 4), Fraction(9), pickup=Fraction(1))
    chords = (ChordSpan(Fraction(1), Fraction(8), ChordSymbol.parse("G")),)
    made = lick(bars, [(0, 1), (1, 2)], chords=chords, tempo=Tempo(Fraction(120)))
    whole = performance_of(
        made, band="usual", click=ClickPlan(), count_in=1, loops=2, tempo=Fraction(60)
    )
    assert [part.name for part in whole.parts] == ["lead", "Guitar", "Bass", "Click"]
    assert (whole.count_in, whole.quarter_bpm) == (3, 60)
    assert whole.seconds(whole.count_in) == pytest.approx(3.0)
    lead = [s.onset for s in whole.parts[0].strokes]
    assert lead == [3, 4, 11, 12]
    assert [s.onset for s in whole.parts[3].strokes] == list(range(20))
    assert whole.length == 11 + 9
    with pytest.raises(OptionError, match="nothing is left"):
        performance_of(made, lead=False)
    with pytest.raises(OptionError, match="passes"):
        performance_of(made, loops=0)


def test_a_tempo_is_asked_for_in_the_beats_of_the_lick():
    jig = lick(bars_for(Meter(6, 8), Fraction(3)), tempo=Tempo(Fraction(108), Fraction(3, 2)))
    assert performance_of(jig, tempo=Fraction(80)).quarter_bpm == 120


# -- pieces ----------------------------------------------------------------------------------
def test_pieces_laid_end_to_end_are_the_whole():
    ground = changes("G C | Am D7 | G", swing=Fraction(2))
    for style in STYLES:
        for part in band_parts(ground, style):
            cut = pieces(part, ground.bars)
            back = sorted(
                (s.onset + bar.onset, s.midi, s.string, s.end + bar.onset)
                for bar, piece in zip(ground.bars, cut, strict=True)
                for s in piece.strokes
            )
            assert back == sorted((s.onset, s.midi, s.string, s.end) for s in part.strokes)


def test_a_slur_over_the_bar_line_stays_with_its_pluck_and_rings_are_ended():
    bars = bars_for(Meter(4, 4), Fraction(8))
    strokes = (
        Stroke(Fraction(0), Fraction(1), 55, 3, 0, ring=True),
        Stroke(Fraction(3), Fraction(1), 60, 2, 1),
        Stroke(Fraction(4), Fraction(1), 62, 2, 3, attack="hammer-on"),
        Stroke(Fraction(5), Fraction(1), 55, 3, 0, ring=True),
    )
    one, two = pieces(Part("lead", "steel", strokes), bars)
    assert [(s.onset, s.midi) for s in one.strokes] == [(0, 55), (3, 60), (4, 62)]
    assert (one.strokes[0].duration, one.strokes[0].ring) == (5, False)
    assert [(s.onset, s.midi, s.ring) for s in two.strokes] == [(1, 55, True)]
