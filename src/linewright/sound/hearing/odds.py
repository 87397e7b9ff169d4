"""What a place where something may begin looks like, and how likely a new note is there.

Two logistic models, fitted by ``benchmarks/fit_hearing.py`` on seeded takes of other programs and
seeds than the ones the figures of docs/hearing.md are measured on: is it a new note of the same
pitch, and is it a new note of another pitch.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from linewright.sound.hearing.divide import Costs
from linewright.sound.hearing.evidence import STEP, Evidence
from linewright.sound.hearing.frames import Floats, greatest
from linewright.sound.hearing.weights import AGAIN, MOVE

__all__ = ["NAMES", "costs", "features", "likely", "on_the_grid"]

#: What is looked at, in the order of the columns.
NAMES: Final = (
    "constant", "rise", "rise squared", "high rise", "rise beside the loudest of half a second",
    "rise beside its neighbours", "level gained", "pitch differs", "pitch differs and rise",
    "spectrum gained", "fall", "one clear pitch after", "high rise beside the loudest",
    "news", "news squared", "prediction error", "news of another pitch", "news of the same pitch",
    "news and rise", "news, longer", "time since the last strong rise", "that and news",
    "prediction error and news", "time since the last strong rise and rise", "one clear pitch new",
    "our own sound", "our own sound and rise", "our own sound and level gained",
    "our own sound and news", "our own sound and news differ", "our own sound and high rise",
)  # fmt: skip
_MOST: Final = 16.0  # no cost is higher, so that no fitted model can forbid


def features(seen: Evidence) -> Floats:
    """One row for each cut, one column for each of :data:`NAMES`."""
    cuts, risen = seen.cuts, seen.risen
    count = len(risen.whole)
    rise, high = greatest(risen.whole, 1), greatest(risen.high, 2)
    log_rise = np.log(np.maximum(rise, 0.01) / 0.15)
    log_high = np.log(np.maximum(high, 0.01) / 0.15)
    beside = log_rise - np.log(np.maximum(greatest(risen.whole, 100), 0.01) / 0.15)
    neighbours = log_rise - np.log(np.maximum(greatest(risen.whole, 14), 0.01) / 0.15)
    high_beside = log_high - np.log(np.maximum(greatest(risen.high, 100), 0.01) / 0.15)
    loud = np.repeat(seen.loud, STEP)[:count]
    loud = np.pad(loud, (0, count - len(loud)), mode="edge")
    gained_level = np.clip(_shifted(greatest(loud, 4), 5) + greatest(-loud, 3), -10, 30) / 10
    total = np.concatenate([np.zeros((1, seen.chance.shape[1])), np.cumsum(seen.chance, axis=0)])
    at = np.minimum(cuts // STEP, len(seen.chance))
    before = total[at] - total[np.maximum(at - 5, 0)]
    after = (
        total[np.minimum(at + 7, len(seen.chance))] - total[np.minimum(at + 1, len(seen.chance))]
    )
    size = np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
    differs = 1 - (before * after).sum(axis=1) / np.maximum(size, 1e-3)
    clear = after.max(axis=1) / 6
    gained = np.repeat(seen.gained, STEP)
    gained = _shifted(np.pad(gained, (0, max(0, count - len(gained))), mode="edge")[:count], 5)
    ours = greatest(seen.ours, 3)
    news = _news(seen, before, log_rise[cuts])
    columns = (
        np.ones(len(cuts)), log_rise[cuts], log_rise[cuts] ** 2, log_high[cuts], beside[cuts],
        neighbours[cuts], gained_level[cuts], differs, differs * log_rise[cuts],
        gained[cuts], np.log(np.maximum(risen.fall[cuts], 0.01) / 0.15), clear, high_beside[cuts],
        *news,
        ours[cuts], ours[cuts] * log_rise[cuts], ours[cuts] * gained_level[cuts], ours[cuts] * news[0], ours[cuts] * news[3], ours[cuts] * log_high[cuts],
    )  # fmt: skip
    return np.stack(columns, axis=1).astype(np.float32)


def _news(seen: Evidence, before: NDArray[np.float64], rise: Floats) -> tuple[Floats, ...]:
    """What is new after each cut, and whether it is the pitch that sounded before."""
    news, later = (np.log10(np.maximum(seen.foretold.shares, 1e-3)) + 1).T
    error = np.log10(seen.foretold.error) + 3
    past = seen.foretold.past / 0.12
    pitch = sum(seen.news[1:], seen.news[0]) / 4
    size = np.linalg.norm(before, axis=1) * np.linalg.norm(pitch, axis=1)
    same = (before * pitch).sum(axis=1) / np.maximum(size, 1e-3)
    much = np.clip(1 + (news - 1) / 2, 0, 1)
    return (
        news, news**2, error, much * (1 - same), much * same, news * rise, later,
        past, past * news, error * news, past * rise, much * pitch.max(axis=1),
    )  # fmt: skip


def likely(table: Floats, weights: tuple[float, ...], lean: Floats | None = None) -> Floats:
    """Probability of a new note by one of the two models."""
    odds = table @ np.array(weights) + (0 if lean is None else lean)
    return np.asarray(1 / (1 + np.exp(np.clip(-odds, -30, 30))), np.float32)


def on_the_grid(seconds: Floats, begun: Floats, tempo: float) -> Floats:
    """How much each cut's place on the grid of a known tempo speaks for a note, -0.5 to 0.5.

    The grid is that of twelve places to the beat on which triplets and sixteenths fall; where it
    starts is taken from the sure onsets. So weak a hint decides only where all else is in doubt,
    and moves nothing.
    """
    sure = begun > 0.9
    if sure.sum() < 8:
        return np.zeros(len(seconds), np.float32)
    beat = 60 / tempo
    best = np.full(len(seconds), -1.0)
    for parts in (3, 4):
        turn = np.exp(2j * np.pi * seconds * parts / beat)
        mean = np.mean(turn[sure])
        best = np.maximum(best, np.abs(mean) * np.cos(np.angle(turn) - np.angle(mean)))
    return np.asarray(0.5 * best, np.float32)


def costs(table: Floats, lean: Floats | None = None) -> Costs:
    """What holding, striking again, moving, stopping and starting cost at each cut.

    ``lean`` is added to the logarithm of the odds of anything new.
    """
    again, move = likely(table, AGAIN, lean), likely(table, MOVE, lean)
    dear = np.full(len(table), 3.0, np.float32)
    return Costs(
        hold=_cost(1 - np.minimum(again + move, 1)),
        again=_cost(again),
        move=_cost(move) + 0.5,
        stop=dear,
        start=_cost(np.maximum(again, move)),
    )


def _cost(chance: Floats) -> Floats:
    return np.asarray(np.minimum(-np.log(np.maximum(chance, 1e-7)), _MOST), np.float32)


def _shifted(curve: Floats, by: int) -> Floats:
    """The value ``by`` frames later."""
    return np.concatenate(
        [curve[by:], np.full(min(by, len(curve)), curve[-1] if len(curve) else 0)]
    )
