"""The quick ways hearing filters and solves, against numpy's plain ones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from linewright.sound.hearing import bursts, cancel, forecast
from linewright.sound.hearing.combs import Bins, fit_combs
from linewright.sound.hearing.frames import RATE, filtered
from linewright.sound.hearing.pitch import Range


@settings(max_examples=60)
@given(
    count=st.integers(0, 700), taps=st.integers(1, 70), part=st.integers(1, 4), seed=st.integers(0)
)
def test_a_row_is_filtered_as_by_convolution(count: int, taps: int, part: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    row = rng.normal(size=count).astype(np.float32)
    shape = rng.normal(size=taps).astype(np.float32)
    ahead = int(rng.integers(0, taps))
    whole = np.convolve(row, shape) if count else np.zeros(0)
    wanted = whole[ahead : ahead + count]
    found = filtered(row, shape, ahead, part)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, wanted[::part], atol=1e-4)


@pytest.mark.parametrize("order", [1, 2, 16, 300])
def test_a_filter_solves_the_equations_of_its_autocorrelation(order: int) -> None:
    rng = np.random.default_rng(order)
    row = rng.normal(size=4000)
    own = np.array([row[k:] @ row[: len(row) - k] for k in range(order)])
    own[0] *= 1.01
    cross = rng.normal(size=order)
    at = np.arange(order)
    wanted = np.linalg.solve(own[np.abs(at[:, None] - at)], cross)
    np.testing.assert_allclose(cancel._solved(own, cross), wanted, rtol=1e-6, atol=1e-12)


@pytest.mark.parametrize("order", [2, 16, 300])
def test_conjugate_gradients_solve_the_same_equations_each_tap_with_its_own_spread(
    order: int,
) -> None:
    rng = np.random.default_rng(order)
    row = rng.normal(size=4000)
    own = np.array([row[k:] @ row[: len(row) - k] for k in range(order)]) / 4000
    cross = rng.normal(size=order)
    spread = 10 ** rng.uniform(-3, 3, order)
    at = np.arange(order)
    whole = own[np.abs(at[:, None] - at)] + np.diag(1 / spread)
    found = bursts._solved(own, cross, spread, np.zeros(order))
    wanted = np.linalg.solve(whole, cross)
    np.testing.assert_allclose(found, wanted, atol=1e-3 * np.abs(wanted).max())


def test_clicks_are_bursts_and_a_band_is_none() -> None:
    clicks = np.zeros(30_000, np.float32)
    for start in range(1_000, 30_000, 6_000):
        clicks[start : start + 800] = 1
    found = bursts.find_bursts(clicks, 1024)
    assert found is not None
    assert found.starts.tolist() == list(range(1_000, 30_000, 6_000))
    assert found.apart.all()
    assert bursts.find_bursts(np.ones(30_000, np.float32), 1024) is None
    assert bursts.find_bursts(np.zeros(30_000, np.float32), 1024) is None


def test_products_of_lags_are_those_of_the_whole_sum() -> None:
    """The covariance method's matrix (Makhoul 1975), summed plainly in double precision."""
    rng = np.random.default_rng(5)
    order = forecast._ORDER
    pasts = [rng.normal(size=n).astype(np.float32) for n in (order + 40, 500, 882)]
    for past, found in zip(pasts, forecast._products(pasts), strict=True):
        rows = np.lib.stride_tricks.sliding_window_view(past.astype(np.float64), order + 1)
        np.testing.assert_allclose(found, rows.T @ rows, atol=1e-3 * len(rows))


def test_the_last_column_is_foretold_as_by_plain_elimination() -> None:
    rng = np.random.default_rng(6)
    rows = rng.normal(size=(3, 80, 40))
    whole = np.einsum("kni,knj->kij", rows, rows) + np.eye(40)
    wanted = np.linalg.solve(whole[:, :-1, :-1], whole[:, :-1, -1:])[:, :, 0]
    np.testing.assert_allclose(forecast._solved(whole.astype(np.float32)), wanted, atol=1e-3)
    # No positive matrix: still an answer, no fault.
    whole[0, -1, -1] = -1.0
    np.testing.assert_allclose(forecast._solved(whole.astype(np.float32)), wanted, atol=1e-3)


@pytest.mark.parametrize("count", [21 * 130, 21 * 130 + 1, 21 * 130 + 20, 9000])
def test_loudness_between_grains_lies_on_straight_lines(count: int) -> None:
    row = np.random.default_rng(count).normal(size=count).astype(np.float32)
    row *= np.linspace(0.1, 1, count, dtype=np.float32)
    grain, width = cancel._GRAIN, round(0.12 * RATE / cancel._GRAIN)
    grains = -(-count // grain)
    padded = np.pad(row.astype(np.float64), (0, grains * grain - count))
    power = np.mean(padded.reshape(grains, grain) ** 2, axis=1)
    size = np.sqrt(np.convolve(power, np.full(width, 1 / width), "same"))
    middles = (np.arange(len(size)) + 0.5) * grain
    wanted = np.interp(np.arange(count), middles, size)
    found = cancel._quietness(row)
    assert found.shape == (count,)
    np.testing.assert_allclose(1 / found.astype(np.float64), wanted, rtol=1e-5)


def test_semitones_above_the_highest_partial_heard_are_nothing_and_no_fault() -> None:
    spectra = np.ones((3, 721), np.float32)
    found = fit_combs(spectra, Range(36, 108), 0.0, 0.67, Bins(4320, 1020, 3675.0))
    assert np.isfinite(found).all()
    assert found[:, -1].max() < 1e-6
    np.testing.assert_allclose(found.sum(axis=1), 1, rtol=1e-4)
