"""Bars of sound and their timing map, as the player uses them."""

import io
import tracemalloc
import wave
from fractions import Fraction

import numpy as np
import pytest

from linewright.errors import NotFound, OptionError
from linewright.fretboard import finger, instrument
from linewright.score import Lick, Mark, Meter, Note, Tempo
from linewright.score.meter import bars_for
from linewright.score.performance import Performance
from linewright.services.bring import bring_in
from linewright.services.making import stream_bars
from linewright.services.recording import kind_of, plan_click, recorded
from linewright.services.sounding import bar_wav, endless_map, endless_row, endless_wav, timing_map
from linewright.services.wishes import Wishes
from linewright.sound.lead import lead_part
from linewright.sound.render import render
from linewright.theory import Pitch
from samples import PORCH


def samples(data: bytes) -> tuple[np.ndarray, int]:
    """A WAV as the standard library reads it: shape (frames, channels), -1 to 1."""
    with wave.open(io.BytesIO(data)) as file:
        raw = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
        return raw.reshape(-1, file.getnchannels()) / 32768, file.getframerate()


def apart(swing=None) -> Lick:
    """Notes with silence around them, on and off the beat, so that an onset cannot be mistaken."""
    onsets = [Fraction(0), Fraction(3, 2), Fraction(3), Fraction(9, 2), Fraction(6)]
    notes = tuple(
        Note(onset, Fraction(1, 2), Pitch.parse(name))
        for onset, name in zip(onsets, ("G3", "B3", "D4", "G4", "E3"), strict=True)
    )
    made = Lick(notes, bars_for(Meter(4, 4), Fraction(8)), tempo=Tempo(Fraction(90)), swing=swing)
    return finger(made, instrument("guitar"))


@pytest.mark.parametrize("percent", [100, 70, 150])
@pytest.mark.parametrize("swing", [None, Fraction(2)])
def test_the_map_and_the_sound_agree_within_a_millisecond(swing, percent):
    lick = apart(swing)
    told = timing_map(lick, "/sound")
    quarter = 60 / told["bpm"] * 100 / percent
    for note in told["notes"]:
        bar = told["bars"][note["bar"]]
        sound, rate = samples(bar_wav(lick, "lead", note["bar"], percent=percent))
        expected = (note["onset"] - bar["start"]) * quarter
        before = np.abs(sound[: max(0, round((expected - 0.001) * rate))][-round(0.05 * rate) :])
        assert not before.size or before.max() < 1e-3
        begun = np.flatnonzero(np.abs(sound[round(max(0, expected - 0.001) * rate) :, 0]) > 1e-3)
        heard = max(0, expected - 0.001) + begun[0] / rate
        assert abs(heard - expected) < 0.001
    if swing:
        assert [n["onset"] for n in told["notes"]][1] == pytest.approx(1 + 2 / 3)
    assert told["notes"][2]["seconds"] == pytest.approx(3 * 60 / 90)


def test_the_joins_of_a_loop_have_no_click():
    """Three rounds laid end to end as the page lays them: no step between samples at a join is
    larger than the largest within the bars, and none is a jump of the whole.
    """
    lick = bring_in(PORCH.encode()).lick
    quarter = lick.tempo.seconds_per_quarter
    for stem, style in (("lead", ""), ("band", "usual")):
        bars = [samples(bar_wav(lick, stem, i, style=style))[0] for i in (0, 1)]
        length = round(4 * quarter * 44100)
        line = np.zeros((6 * length + max(map(len, bars)), bars[0].shape[1]))
        for place in range(6):
            piece = bars[place % 2]
            line[place * length : place * length + len(piece)] += piece
        steps = np.abs(np.diff(line, axis=0)).max(axis=1)
        joins = np.zeros(len(steps), dtype=bool)
        for place in range(1, 6):
            joins[place * length - 44 : place * length + 1] = True  # 1 ms up to the join
        assert steps[joins].max() <= steps[~joins].max()
        assert steps[joins].max() < 0.05


@pytest.mark.parametrize("percent", [100, 97])
def test_bars_laid_end_to_end_are_the_lead_as_a_whole(percent):
    """At 97 % no bar is a whole number of samples long: nothing may drift."""
    lick = bring_in(PORCH.encode()).lick
    bpm = lick.tempo.quarter_bpm * percent / 100
    whole = render(Performance((lead_part(lick),), lick.length, bpm))[:, 0]
    laid = np.zeros(len(whole) + 8 * 44100)
    for index, bar in enumerate(lick.bars):
        sound, rate = samples(bar_wav(lick, "lead", index, percent=percent))
        at = round(bar.onset * 60 / bpm * rate)
        laid[at : at + len(sound)] += sound[:, 0]
    laid = laid[: round(lick.length * 60 / bpm * 44100)]
    whole = whole[: len(laid)]
    left = laid - whole * (laid @ whole) / (whole @ whole)  # one gain apart
    assert np.sqrt((left @ left) / (laid @ laid)) < 0.1  # no two plucks are quite the same


def test_stems_never_clip_together():
    lick = bring_in(PORCH.encode()).lick
    for index in (0, 1):
        parts = [
            samples(bar_wav(lick, stem, index, style=style))[0]
            for stem, style in (("lead", ""), ("band", "swing"), ("click", "divided"))
        ]
        whole = np.zeros((max(map(len, parts)), 2))
        for part, level in zip(parts, (1, 0.7, 0.6), strict=True):
            whole[: len(part)] += level * part
        assert 0.05 < np.abs(whole).max() < 1


def test_a_count_in_is_as_long_as_the_map_says():
    lick = apart()
    told = timing_map(lick, "/sound")
    assert told["count_in"] == {"first": [4, 8], "later": [4, 8]}
    sound, rate = samples(bar_wav(lick, "count", 1, style="2"))
    quarter = 60 / 90
    for beat in range(8):
        at = round(beat * quarter * rate)
        assert np.abs(sound[at : at + 400]).max() > 0.02


def test_a_slur_over_the_bar_line_sounds_on():
    notes = (
        Note(Fraction(3), Fraction(1), Pitch.parse("D4"), 2, 3),
        Note(Fraction(4), Fraction(2), Pitch.parse("E4"), 2, 5, (Mark("hammer-on"),)),
    )
    lick = Lick(
        notes, bars_for(Meter(4, 4), Fraction(8)), tempo=Tempo(Fraction(60)),
        instrument=instrument("guitar"),
    )  # fmt: skip
    first, rate = samples(bar_wav(lick, "lead", 0))
    second, _ = samples(bar_wav(lick, "lead", 1))
    assert np.abs(first[round(4.5 * rate) : round(5.5 * rate)]).max() > 0.01
    assert np.abs(second).max() == 0  # it belongs to its pluck


def test_what_there_is_not_is_refused():
    lick = apart()
    with pytest.raises(NotFound, match="no stem"):
        bar_wav(lick, "drums", 0)
    with pytest.raises(NotFound, match="no bar"):
        bar_wav(lick, "lead", 9)
    with pytest.raises(OptionError, match="20 %"):
        bar_wav(lick, "lead", 0, percent=20)
    with pytest.raises(OptionError, match="no chords"):
        bar_wav(lick, "band", 0, style="swing")
    with pytest.raises(OptionError, match="count-in"):
        bar_wav(lick, "count", 0, style="9")


def test_a_line_without_end_goes_on_and_holds_no_more_memory():
    lick = bring_in(PORCH.encode()).lick
    wishes = Wishes(over="12-bar blues")
    told = endless_map(lick, None, wishes, "/here", "over=12-bar+blues")
    assert told["endless"]
    assert told["has_chords"]

    def play(first, last):
        for index in range(first, last):
            for stem, style in (("lead", ""), ("band", "swing")):
                sound, _ = samples(
                    endless_wav(lick, None, wishes, stem, index, percent=150, style=style)
                )
                assert np.isfinite(sound).all()

    play(0, 36)  # the rooms for bars kept at hand are full now
    tracemalloc.start()
    play(36, 40)
    before = tracemalloc.get_traced_memory()[0]
    play(40, 76)
    after = tracemalloc.get_traced_memory()[0]
    play(76, 112)
    last = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    assert last - after < 1.5e6  # bytes; the bars of 36 more would be twenty times as much
    assert before < last
    bar = next(stream_bars(lick, None, wishes, 5))
    row = endless_row(bar, 4)
    assert (row["number"], row["start"], row["length"]) == (5, 16, 4)
    assert all(16 <= note["onset"] < 20 for note in row["notes"])


@pytest.mark.parametrize("kind", ["wav", "mid"])
def test_a_recording_has_what_was_asked_for(kind):
    lick = bring_in(PORCH.encode()).lick
    told = []
    data = recorded(
        lick, kind, band="usual", count_in=1, click=plan_click("beats", "1-1"), loops=2,
        tempo=Fraction(120), progress=lambda done, total: told.append((done, total)),
    )  # fmt: skip
    assert told[-1][0] == told[-1][1]
    if kind == "wav":
        sound, rate = samples(data)
        assert sound.shape[0] / rate >= 10  # 20 quarters at 120
        assert np.abs(sound).max() < 1
    else:
        assert data[:4] == b"MThd"


def test_kinds_and_clicks_are_read():
    assert kind_of("a.OGG") == "ogg"
    assert plan_click(None, None) is None
    with pytest.raises(OptionError, match="no kind"):
        kind_of("lick.txt")
    with pytest.raises(OptionError, match="bars on and off"):
        plan_click("beats", "two")
