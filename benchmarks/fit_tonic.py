"""Fit the weights of the tonic and mode estimate and write ``analysis/tonic_weights.py``.

    python -m benchmarks.fit_tonic

The shipped weights are fitted on all of music21's O'Neill's, Ryan's Mammoth, Aird's, and the
few tunes of Essen and Nottingham whose K: names a mode. What ``benchmarks.tonic_mode`` prints
comes from fits made by the functions here that never saw the collection they are tested on;
``benchmarks.tonic_choice`` compares settings within the training collections.

Two log-linear models, both penalised by squared weights and fitted by L-BFGS from zero (the
problems are convex, so the fit is deterministic; weights are then rounded):

* tonic: a score for each of the twelve candidates, the same weights turned to each;
* mode given the tonic: one weight for each fact whatever the mode, and a bias for each mode,
  every mode made to weigh the same. Where the tonic of an excerpt is given, each mode also has a
  table by which thirds, sixths and sevenths are heard at all; where it is inferred, the table made
  the answer worse, and the commoner modes start ahead instead.

Each is fitted three times: on whole tunes, on 4-bar and on 2-bar excerpts, with phrases that end
as the tune ends beside them: a lick is a whole phrase, where an excerpt is cut anywhere.
"""

from __future__ import annotations

import random
import textwrap
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy import sparse
from scipy.optimize import minimize

import linewright.analysis
from benchmarks.tonic_data import LENGTHS, SEED, Labelled, Span, excerpts, labelled, load, phrases
from linewright.analysis.tonic_evidence import BRIEF, PAIRS, SINGLES
from linewright.analysis.tonic_model import ModeWeights, TonicWeights, Weights
from linewright.analysis.tonic_modes import (
    MODE_FACTS,
    TONIC_MODES,
    heard_degrees,
    mode_facts,
)

#: Evidence is scaled before the penalty: what is spread over many cells needs larger weights.
SCALE = {
    "length": 2.0, "downbeat": 2.0, "first bar": 2.0, "major triad": 2.0, "minor triad": 2.0,
    "step": 6.0, "downbeat step": 4.0, "strong step": 5.0, "close step": 2.0,
}  # fmt: skip
STATES = 64
BIAS_PENALTY = 0.02


@dataclass(frozen=True)
class Settings:
    """How one length of phrase is fitted.

    ``rare`` is how much more Dorian and Mixolydian tunes count in the tonic fit; ``belief`` how
    much of the modes' unequal frequency in the collections the estimate believes when the tonic
    is not given (its logarithm times this); ``phrase`` the weight of phrases that end as the
    tune does (of half tunes beside whole ones); ``majors`` the most major tunes of a collection
    that are used (or twice the minors, if that is more); ``excerpts`` how many of each tune;
    ``kinds`` how many kinds of evidence, of single classes and of pairs, the tonic is weighed by.
    """

    excerpts: int
    phrase: float
    belief: float
    rare: float
    kinds: tuple[int, int]
    tonic: float = 6.0  # the penalties
    mode: float = 0.1
    given: float = 0.1
    heard: float | None = 1.0  # of the table for a given tonic; None for no table
    majors: int = 900


SETTINGS: Mapping[int | str, Settings] = {
    "whole": Settings(excerpts=1, phrase=0.5, belief=0.0, rare=1.5, heard=None,
                      kinds=(len(SINGLES), len(PAIRS))),
    4: Settings(excerpts=4, phrase=0.4, belief=0.4, rare=2.0, given=5.0, kinds=BRIEF),
    2: Settings(excerpts=6, phrase=0.4, belief=0.4, rare=2.0, given=20.0, kinds=BRIEF),
}  # fmt: skip

_SINGLE = len(SINGLES) * 12
_WIDTH = _SINGLE + len(PAIRS) * 144
_SCALES = np.concatenate(
    [np.repeat([SCALE.get(kind, 1.0) for kind in SINGLES], 12),
     np.repeat([SCALE.get(kind, 1.0) for kind in PAIRS], 144)]
)  # fmt: skip


def _turns() -> np.ndarray:
    """For each cell of evidence and each candidate, the weight that speaks there."""
    a, b, tonic = np.arange(144) // 12, np.arange(144) % 12, np.arange(12)
    single = (np.arange(12)[:, None] - tonic) % 12
    pair = (a[:, None] - tonic) % 12 * 12 + (b[:, None] - tonic) % 12
    return np.concatenate(
        [12 * kind + single for kind in range(len(SINGLES))]
        + [_SINGLE + 144 * kind + pair for kind in range(len(PAIRS))]
    )


_TURNS = _turns()


class Row(NamedTuple):
    """One excerpt: its evidence, and what speaks for each mode on the labelled tonic."""

    columns: np.ndarray
    values: np.ndarray
    facts: np.ndarray
    heard: int
    count: int


_ROWS: dict[tuple[int, Span], Row] = {}


def row_of(tune: Labelled, span: Span) -> Row:
    """The numbers of an excerpt, worked out once in a run."""
    found = _ROWS.get((id(tune), span))
    if found is None:
        evidence = tune.evidence(span)
        cells = [(12 * kind + pc, value) for kind, pc, value in evidence.singles]
        for kind, a, b, value in evidence.pairs:
            cells.append((_SINGLE + 144 * kind + 12 * a + b, value))
            if PAIRS[kind] == "together":
                cells.append((_SINGLE + 144 * kind + 12 * b + a, value))
        columns = np.array([column for column, _ in cells])
        found = _ROWS[id(tune), span] = Row(
            columns,
            np.array([value for _, value in cells]) * _SCALES[columns],
            np.array([mode_facts(evidence, tune.tonic, mode) for mode in range(4)]),
            heard_degrees(evidence, tune.tonic),
            evidence.count,
        )
    return found


@dataclass(frozen=True)
class Examples:
    """Excerpts with their labels and weights, an entry for each."""

    rows: list[Row]
    tonics: np.ndarray
    modes: np.ndarray
    weights: np.ndarray


def examples(tunes: list[Labelled], length: int | str, settings: Settings) -> Examples:
    """Excerpts of tunes; in each group majors weigh together what minors do."""
    made: list[tuple[Row, int, int, float]] = []
    for group in dict.fromkeys(tune.group for tune in tunes):
        own = [tune for tune in tunes if tune.group == group]
        minors = sum(tune.mode == "minor" for tune in own)
        majors = [tune for tune in own if tune.mode == "major"]
        random.Random(SEED).shuffle(majors)
        majors = majors[: max(settings.majors, 2 * minors) if minors > 20 else minors]
        for tune in [*majors, *(t for t in own if t.mode != "major")]:
            share = minors / len(majors) if tune.mode == "major" else 1.0
            parts = (
                (excerpts(tune, length, settings.excerpts), share),
                (phrases(tune, length), share * settings.phrase),
            )
            for spans, weight in parts:
                for span in spans:
                    mode = TONIC_MODES.index(tune.mode)
                    made.append((row_of(tune, span), tune.tonic, mode, weight / len(spans)))
    rows, tonics, modes, weights = zip(*made, strict=True)
    return Examples(list(rows), np.array(tonics), np.array(modes), np.array(weights))


def design(rows: list[Row]) -> sparse.csr_matrix:
    """The evidence of excerpts: one line each, a column for each cell."""
    ends = np.cumsum([0, *(len(row.columns) for row in rows)])
    values = np.concatenate([row.values for row in rows])
    columns = np.concatenate([row.columns for row in rows])
    return sparse.csr_matrix((values, columns, ends), (len(rows), _WIDTH))


def tonic_scores(rows: list[Row], weights: TonicWeights) -> np.ndarray:
    """What each candidate scores in each excerpt."""
    pairs = np.array(weights.pairs)
    pairs[PAIRS.index("together")] /= 2  # written in both orders
    cells = np.zeros(_WIDTH)
    cells[: 12 * len(weights.singles)] = np.ravel(weights.singles)
    cells[_SINGLE : _SINGLE + pairs.size] = pairs.ravel()
    return design(rows) @ (cells / _SCALES)[_TURNS]


def mode_scores(rows: list[Row], weights: ModeWeights) -> np.ndarray:
    """What each mode scores on the labelled tonic of each excerpt."""
    scores = np.array([row.facts for row in rows]) @ weights.facts + np.array(weights.start)
    if weights.heard:
        scores += np.reshape(weights.heard, (-1, 4))[[row.heard for row in rows]]
    return scores


def fit_tonic(data: Examples, settings: Settings) -> TonicWeights:
    """Weights of the tonic model."""
    single, pair = settings.kinds
    used = np.r_[0 : 12 * single, _SINGLE : _SINGLE + 144 * pair]
    turns = np.where(_TURNS < _SINGLE, _TURNS, _TURNS - _SINGLE + 12 * single)[used]
    table, at = design(data.rows)[:, used], np.arange(len(data.rows))
    back = table.T.tocsr()
    heavy = data.weights * np.where(data.modes >= 2, settings.rare, 1.0)
    places, width = turns.ravel(), len(used)

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        scores = table @ weights[turns]
        scores -= scores.max(axis=1, keepdims=True)
        odds = np.exp(scores)
        total = odds.sum(axis=1)
        value = -(heavy * (scores[at, data.tonics] - np.log(total))).sum()
        slope = odds * (heavy / total)[:, None]
        slope[at, data.tonics] -= heavy
        gradient = np.bincount(places, (back @ slope).ravel(), width)
        return (
            value + settings.tonic / 2 * weights @ weights,
            gradient + settings.tonic * weights,
        )

    found = _least(loss, width) * _SCALES[used]
    pairs = found[12 * single :].reshape(-1, 12, 12)
    together = PAIRS.index("together")  # an entry stands for both orders
    pairs[together] += pairs[together].T.copy()
    singles = found[: 12 * single].reshape(-1, 12)
    return TonicWeights(_rounded(singles), _rounded(pairs.reshape(-1, 144)))


def fit_mode(data: Examples, settings: Settings, *, given: bool) -> ModeWeights:
    """Weights of the mode model for a given or for an inferred tonic."""
    facts = np.array([row.facts for row in data.rows])
    labels, at = data.modes, np.arange(len(data.rows))
    share = np.array([data.weights[labels == mode].sum() for mode in range(4)])
    heavy = data.weights * (share.sum() / 4 / share)[labels]
    width, more = len(MODE_FACTS), 0
    penalties = [np.full(width, settings.mode), np.full(4, BIAS_PENALTY)]
    own = np.zeros((len(labels), 0))
    if given:
        penalties[0][:] = settings.given
    if given and settings.heard is not None:
        own = np.zeros((len(labels), STATES))
        own[at, [row.heard for row in data.rows]] = 1.0
        more = STATES
        penalties.append(np.full(4 * STATES, settings.heard))
    penalty = np.concatenate(penalties)

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        shared, bias = weights[:width], weights[width : width + 4]
        scores = facts @ shared + bias + own @ weights[width + 4 :].reshape(more, 4)
        scores -= scores.max(axis=1, keepdims=True)
        odds = np.exp(scores)
        total = odds.sum(axis=1)
        value = -(heavy * (scores[at, labels] - np.log(total))).sum()
        slope = odds / total[:, None]
        slope[at, labels] -= 1
        slope *= heavy[:, None]
        gradient = np.concatenate(
            [np.einsum("nm,nmq->q", slope, facts), slope.sum(axis=0), (own.T @ slope).ravel()]
        )
        return value + (penalty * weights**2).sum() / 2, gradient + penalty * weights

    found = _least(loss, len(penalty))
    prior = np.log(share / share.sum()) * (0.0 if given else settings.belief)
    start = found[width : width + 4] + prior - prior.mean()
    table = found[width + 4 :]
    parts = (found[:width], start, table)
    return ModeWeights(*(_rounded(part[None])[0] for part in parts))


def _least(loss: Callable[[np.ndarray], tuple[float, np.ndarray]], width: int) -> np.ndarray:
    options = {"maxiter": 200, "maxcor": 20}
    return minimize(loss, np.zeros(width), jac=True, method="L-BFGS-B", options=options).x


def fit(
    tunes: list[Labelled], settings: Mapping[int | str, Settings] = SETTINGS
) -> tuple[Weights, ...]:
    """All weights, shortest excerpts first."""
    fitted = []
    for length in reversed(LENGTHS):
        own = settings[length]
        data = examples(tunes, length, own)
        counts = [row.count for row in data.rows]
        notes = round(float(np.quantile(counts, 0.1 if length == "whole" else 0.5)))
        modes = [fit_mode(data, own, given=given) for given in (False, True)]
        fitted.append(Weights(notes, fit_tonic(data, own), *modes))
    return tuple(sorted(fitted, key=lambda w: w.notes))


def _rounded(table: np.ndarray) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(round(float(x), 2) + 0.0 for x in row) for row in table)


HEAD = '''"""Weights of the tonic and mode estimate. Written by ``python -m benchmarks.fit_tonic``.

Fitted on {tunes} tunes of music21's O'Neill's ({0}), Ryan's Mammoth ({1}) and Aird's ({2})
collections, and of Essen and Nottingham those whose K: names a mode ({3}): 2-bar excerpts,
4-bar excerpts, whole tunes. Measured across collections by ``benchmarks.tonic_mode``.
"""

from __future__ import annotations

from typing import Final

from linewright.analysis.tonic_model import ModeWeights, TonicWeights, Weights

__all__ = ["WEIGHTS"]

# fmt: off
WEIGHTS: Final = (
'''


def source(weights: tuple[Weights, ...], tunes: list[Labelled]) -> str:
    """The weights as a module of the package."""
    groups = Counter(tune.group for tune in tunes)
    text = HEAD.format(*groups.values(), tunes=len(tunes))
    for fitted in weights:
        text += f"    Weights({fitted.notes}, TonicWeights((\n"
        text += "".join(f"{_table(row)},\n" for row in fitted.tonic.singles)
        text += "    ), (\n" + "".join(f"{_table(row)},\n" for row in fitted.tonic.pairs) + "    ))"
        for mode in (fitted.mode, fitted.given):
            text += ", ModeWeights(\n"
            text += "".join(f"{_table(row)},\n" for row in (mode.facts, mode.start, mode.heard))
            text += "    )"
        text += "),\n"
    return text + ")\n# fmt: on\n"


def _table(values: tuple[float, ...]) -> str:
    """A tuple over as few lines of 100 places as will hold it."""
    shown = [f"{v:g}" for v in values]
    shown = [v.replace("0.", ".", 1) if "0." in v[:3] else v for v in shown]
    return textwrap.fill("(" + ", ".join(shown) + ")", 100, initial_indent=" " * 4,
                         subsequent_indent=" " * 5)  # fmt: skip


def main() -> None:
    """Fit on everything and write the module."""
    tunes = [tune for own in load().values() for tune in labelled(own)]
    path = Path(linewright.analysis.__file__).parent / "tonic_weights.py"
    path.write_text(source(fit(tunes), tunes), "utf-8")


if __name__ == "__main__":
    main()
