"""Hearing notes in made-up plucks: laws that must hold whatever the method."""

from __future__ import annotations

import numpy as np
import pytest
from plucks import LICK, RATE, play

from linewright.errors import OptionError, TooLarge
from linewright.fretboard import INSTRUMENTS
from linewright.fretboard import instrument as make_instrument
from linewright.sound.hearing import Heard, hear
from linewright.sound.hearing.cancel import cancelled
from linewright.sound.hearing.divide import Costs, divide

SOUND = play(LICK, 3.6)


def shape(heard: Heard) -> list[int]:
    return [note.midi for note in heard.notes]


def test_a_lick_is_heard_as_it_was_played() -> None:
    heard = hear(SOUND, RATE)
    assert shape(heard) == [midi for _, _, midi in LICK]
    for note, (onset, length, _) in zip(heard.notes, LICK, strict=True):
        assert note.onset_s == pytest.approx(onset, abs=0.006)
        assert note.offset_s <= onset + length + 0.08
        assert note.attack == "struck"
        assert abs(note.cents) < 8
    assert heard.warnings == ()
    assert abs(heard.tuning_cents) < 5


@pytest.mark.parametrize("late", [0.0137, 0.2, 1.0])
def test_delay_shifts_every_onset(late: float) -> None:
    plain, delayed = hear(SOUND, RATE), hear(np.pad(SOUND, (round(late * RATE), 0)), RATE)
    assert shape(delayed) == shape(plain)
    for a, b in zip(plain.notes, delayed.notes, strict=True):
        assert b.onset_s - a.onset_s == pytest.approx(late, abs=0.003)


@pytest.mark.parametrize("gain", [0.003, 0.1, 30.0])
def test_gain_changes_nothing(gain: float) -> None:
    plain, scaled = hear(SOUND, RATE), hear(gain * SOUND, RATE)
    assert shape(scaled) == shape(plain)
    for a, b in zip(plain.notes, scaled.notes, strict=True):
        assert b.onset_s == pytest.approx(a.onset_s, abs=1e-3)
        assert b.strength == pytest.approx(a.strength, abs=0.01)


@pytest.mark.parametrize("semitones", [-5, 3, 12])
def test_transposing_moves_every_pitch(semitones: int) -> None:
    moved = play([(onset, length, midi + semitones) for onset, length, midi in LICK], 3.6)
    assert shape(hear(moved, RATE)) == [midi + semitones for _, _, midi in LICK]


@pytest.mark.parametrize("cents", [-35, 30])
def test_tuning_is_told_and_taken_out(cents: int) -> None:
    heard = hear(play([(o, d, m + cents / 100) for o, d, m in LICK], 3.6), RATE)
    assert heard.tuning_cents == pytest.approx(cents, abs=6)
    assert shape(heard) == [midi for _, _, midi in LICK]
    assert all(abs(note.cents) < 10 for note in heard.notes)


@pytest.mark.parametrize("rate", [8_000, 44_100, 48_000])
def test_any_rate(rate: int) -> None:
    assert shape(hear(play(LICK, 3.6, rate), rate)) == [midi for _, _, midi in LICK]


def test_mandolin_and_bass_ranges() -> None:
    high = [(o, d, m + 24) for o, d, m in LICK]
    low = [(o, d, m - 24) for o, d, m in LICK]
    mandolin, bass = (make_instrument(name) for name in ("mandolin", "bass"))
    assert shape(hear(play(high, 3.6), RATE, instrument=mandolin)) == [m for _, _, m in high]
    found = shape(hear(play(low, 3.6), RATE, instrument=bass))
    assert sum(a == b for a, b in zip(found, (m for _, _, m in low), strict=False)) >= 8


def test_our_click_is_taken_out() -> None:
    at = np.arange(round(0.03 * RATE)) / RATE
    click = np.sin(2 * np.pi * 1500 * at) * np.exp(-at / 0.006)
    played = np.zeros(len(SOUND), np.float32)
    for beat in np.arange(0.05, 3.4, 0.5):
        start = round(beat * RATE)
        played[start : start + len(click)] += click
    mixed = SOUND + 0.5 * np.roll(played, round(0.031 * RATE))
    heard = hear(mixed, RATE, band=played)
    assert [n.midi for n in heard.notes if n.confidence > 0.9] == [m for _, _, m in LICK]
    assert heard.echo_s == pytest.approx(0.031, abs=0.002)
    left, late, *_ = cancelled(mixed, played)
    assert late == pytest.approx(0.031, abs=0.002)
    before, after = np.mean((mixed - SOUND) ** 2), np.mean((left - SOUND) ** 2)
    assert after < 0.01 * before


def test_a_click_that_falls_on_every_note_is_taken_out_by_what_the_notes_leave_free() -> None:
    """Its error is told too: half the difference of what every second click says."""
    rng = np.random.default_rng(1)
    at = np.arange(round(0.03 * RATE)) / RATE
    click = np.sin(2 * np.pi * 1500 * at) * np.exp(-at / 0.006)
    beats = 0.25 + 0.3 * np.arange(10)
    hand = 0.008 * rng.uniform(-1, 1, 10)
    sound = play([(t, 0.3, 57 + (5 * k) % 12) for k, t in enumerate(beats + hand)], 3.6)
    played = np.zeros(len(sound), np.float32)
    for beat in beats:
        played[round(beat * RATE) :][: len(click)] += click
    heard = np.zeros_like(played)
    for late, share in ((0.004, 0.3), (0.007, -0.09), (0.011, 0.06)):
        heard += np.float32(share) * np.roll(played, round(late * RATE))
    found = cancelled(sound + heard, played)
    assert found.echo is not None
    assert found.wrong is not None
    error = float(np.sqrt(np.sum((found.echo - heard) ** 2) / np.sum(heard**2)))
    assert error < 0.25
    assert error / 2 < found.wrong < 2 * error


def test_a_band_that_is_not_in_the_recording_changes_nothing() -> None:
    other = np.random.default_rng(1).normal(0, 0.1, len(SOUND)).astype(np.float32)
    heard = hear(SOUND, RATE, band=other)
    assert heard.echo_s is None
    assert heard.notes == hear(SOUND, RATE).notes


def test_a_recording_without_a_rest_is_not_called_noisy() -> None:
    """Notes that follow each other from the first sample to the last: nothing to hear noise in."""
    close = play([(0.25 * k, 0.26, 57 + (7 * k) % 12) for k in range(12)], 3.0)
    heard = hear(close, RATE)
    assert shape(heard) == [57 + (7 * k) % 12 for k in range(12)]
    assert heard.notes[0].attack == "struck"  # there is nothing to slur it from
    assert heard.notes[0].onset_s == pytest.approx(0, abs=0.006)
    assert heard.warnings == ()
    assert heard.noise_db < -30
    noise = np.random.default_rng(3).normal(0, 1, len(close)) * np.std(close)
    loud = hear(close + 0.3 * noise, RATE)
    assert any("background is loud" in w for w in loud.warnings)


def test_a_known_tempo_moves_no_onset() -> None:
    plain, told = hear(SOUND, RATE), hear(SOUND, RATE, tempo=120)
    assert [n.onset_s for n in plain.notes] == [n.onset_s for n in told.notes]


@pytest.mark.parametrize(
    "samples", [[], [0.0], np.zeros(50_000), np.full(50_000, np.nan), np.full(50_000, 1e-5)]
)
def test_silence_is_said(samples: object) -> None:
    heard = hear(np.asarray(samples, float), RATE)
    assert heard.notes == ()
    assert "silent" in heard.warnings[0]


def test_short_and_odd_inputs_do_not_break() -> None:
    for size in (2, 10, 109, 111, 1000, 3000):
        hear(np.random.default_rng(size).normal(0, 0.3, size), RATE)
    assert hear(np.ones(40_000), RATE).notes == ()
    spoilt = SOUND.copy()
    spoilt[1000:1010] = np.nan
    assert shape(hear(spoilt, RATE)) == shape(hear(SOUND, RATE))


def test_clipping_and_many_voices_are_said() -> None:
    assert any("clipped" in w for w in hear(np.clip(8 * SOUND, -0.5, 0.5), RATE).warnings)
    strummed = sum(play([(o, 0.24, m) for o, _, _ in LICK], 3.6) for m in (45, 52, 57, 61, 64))
    words = " ".join(hear(strummed, RATE).warnings)
    assert "several notes" in words or "no single notes" in words


def test_hostile_arguments() -> None:
    with pytest.raises(TooLarge, match="minutes"):
        hear(np.zeros(8000 * 601, np.int8), 8000)
    for samples, rate in ((SOUND, 100), (SOUND, 10**7), (np.zeros((3, 3)), RATE), (["a"], RATE)):
        with pytest.raises(OptionError):
            hear(samples, rate)
    with pytest.raises(OptionError, match="tempo"):
        hear(SOUND, RATE, tempo=0)
    for item in INSTRUMENTS.values():
        hear(SOUND[:8000], RATE, instrument=make_instrument(item.name))


def test_division_is_the_cheapest_of_all_paths() -> None:
    """Brute force over every path of five atoms and two pitches."""
    from itertools import product

    for seed in range(20):
        rng = np.random.default_rng(seed)
        begins, like = rng.normal(0, 2, (2, 5, 2)).astype(np.float32)
        mute = rng.normal(0, 2, 5).astype(np.float32)
        cost = Costs(*rng.uniform(0, 3, (5, 5)).astype(np.float32))
        best, paths = -np.inf, []
        for states in product((-1, 0, 1), repeat=5):
            for again in product((0, 1), repeat=5):
                total, notes, ok = 0.0, [], True
                for k, state in enumerate(states):
                    before = states[k - 1] if k else -1
                    goes_on = state >= 0 and state == before and not again[k]
                    total += mute[k] if state < 0 else (like if goes_on else begins)[k, state]
                    if state >= 0 and before < 0:
                        total -= cost.start[k]
                        notes.append([k, k, state])
                    elif state >= 0 and state == before:
                        total -= cost.again[k] if again[k] else cost.hold[k]
                        notes.append([k, k, state]) if again[k] else notes[-1].__setitem__(1, k)
                    elif state >= 0:
                        total -= cost.move[k]
                        notes.append([k, k, state])
                    elif before >= 0:
                        total -= cost.stop[k]
                    ok &= not again[k] or (state >= 0 and state == before)
                if ok and total > best:
                    best, paths = total, notes
        assert divide(begins, like, mute, cost) == [tuple(n) for n in paths]
