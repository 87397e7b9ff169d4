"""Fit the weights of the tonic and mode estimate and write ``analysis/tonic_weights.py``.

    python -m benchmarks.fit_tonic

The shipped weights are fitted on all of music21's O'Neill's, Ryan's Mammoth, Aird's, and the
few tunes of Essen and Nottingham whose K: names a mode. What ``benchmarks.tonic_mode`` prints
comes from fits made by the functions here that never saw the collection they are tested on.

Two log-linear models, both penalised by squared weights and fitted by L-BFGS from zero (the
problems are convex, so the fit is deterministic; weights are then rounded):

* tonic: a score for each of the twelve candidates, the same weights turned to each;
* mode given the tonic: one weight for each fact whatever the mode, and a bias for each mode,
  every mode made to weigh the same. Where the tonic is given, excerpts also have a table of the
  modes by which thirds, sixths and sevenths are heard at all; where it is inferred, the table
  made the answer worse, and the commoner modes start ahead instead.

Each is fitted three times: on whole tunes, on 4-bar and on 2-bar excerpts, with phrases that end
as the tune ends beside them: a lick is a whole phrase, where an excerpt is cut anywhere.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

import linewright.analysis
from benchmarks.tonic_data import LENGTHS, SEED, Labelled, excerpts, load, phrases
from linewright.analysis.tonic_evidence import (
    MODE_FACTS,
    PAIRS,
    SINGLES,
    TONIC_MODES,
    TonicEvidence,
    heard_degrees,
    mode_facts,
    tonic_evidence,
)
from linewright.analysis.tonic_model import ModeWeights, TonicWeights, Weights

#: Evidence is scaled before the penalty: what is spread over many cells needs larger weights.
SCALE = {
    "length": 2.0, "downbeat": 2.0, "first bar": 2.0, "major triad": 2.0, "minor triad": 2.0,
    "step": 6.0, "downbeat step": 4.0, "strong step": 5.0, "close step": 2.0,
}  # fmt: skip
TONIC_PENALTY, BIAS_PENALTY, HEARD_PENALTY = 6.0, 0.02, 1.0
#: Of the mode facts alone, and where the tonic is given. There excerpts have a table of heard
#: degrees beside the facts; whole tunes, in which most degrees are heard, do not.
MODE_PENALTY = 0.1
GIVEN_PENALTY = {"whole": 0.1, 4: 5.0, 2: 20.0}
#: Kinds of evidence, of single classes and of pairs, that the tonic fit uses: in excerpts the
#: triads of bars and the moves between strong notes told nothing more.
KINDS = {"whole": (len(SINGLES), len(PAIRS)), 4: (16, 4), 2: (16, 4)}
STATES = {"whole": 0, 4: 64, 2: 64}
#: Dorian and Mixolydian tunes count this much more in the tonic fit.
RARE = {"whole": 1.5, 4: 2.0, 2: 2.0}
#: How much of the modes' unequal frequency in the collections the estimate believes when the
#: tonic is not given: its logarithm times this, by length.
BELIEF = {"whole": 0.0, 4: 0.4, 2: 0.4}
EXCERPTS = {"whole": 1, 4: 4, 2: 6}
#: Weight of phrases that end as the tune does (of half tunes beside whole ones).
PHRASE = {"whole": 0.5, 4: 0.4, 2: 0.4}
MAJORS = 900  # of a collection, at most (or twice the minors)

_SINGLE = len(SINGLES) * 12
_WIDTH = _SINGLE + len(PAIRS) * 144


@dataclass(frozen=True)
class Example:
    """Evidence of one excerpt with its label and its weight."""

    evidence: TonicEvidence
    tonic: int
    mode: int
    weight: float


def examples(tunes: list[Labelled], length: int | str) -> list[Example]:
    """Excerpts of tunes; in each group majors weigh together what minors do."""
    made = []
    for group in dict.fromkeys(tune.group for tune in tunes):
        own = [tune for tune in tunes if tune.group == group]
        minors = sum(tune.mode == "minor" for tune in own)
        majors = [tune for tune in own if tune.mode == "major"]
        random.Random(SEED).shuffle(majors)
        cap = max(MAJORS, 2 * minors) if minors > 20 else minors
        majors = majors[:cap]
        for tune in [*majors, *(t for t in own if t.mode != "major")]:
            cut, ended = excerpts(tune, length, EXCERPTS[length]), phrases(tune, length)
            share = minors / len(majors) if tune.mode == "major" else 1.0
            phrase = PHRASE[length] if ended else 0.0
            for pieces, weight in ((cut, 1.0), (ended, phrase)):
                for piece in pieces:
                    made.append(
                        Example(
                            tonic_evidence(piece),
                            tune.tonic,
                            TONIC_MODES.index(tune.mode),
                            share * weight / len(pieces),
                        )
                    )
    return made


def dense(evidence: TonicEvidence, tonic: int) -> np.ndarray:
    """The evidence turned to a candidate tonic, one cell for each weight."""
    row = np.zeros(_WIDTH, np.float32)
    for kind, pc, value in evidence.singles:
        row[kind * 12 + (pc - tonic) % 12] += value * SCALE.get(SINGLES[kind], 1.0)
    for kind, a, b, value in evidence.pairs:
        a, b = (a - tonic) % 12, (b - tonic) % 12
        if PAIRS[kind] == "together":
            a, b = min(a, b), max(a, b)
        row[_SINGLE + kind * 144 + a * 12 + b] += value * SCALE.get(PAIRS[kind], 1.0)
    return row


def fit_tonic(data: list[Example], length: int | str) -> TonicWeights:
    """Weights of the tonic model."""
    count, rare = len(data), RARE[length]
    single, pair = KINDS[length]
    used = np.r_[0 : single * 12, _SINGLE : _SINGLE + pair * 144]
    rows = np.zeros((count * 12, len(used)), np.float32)
    for i, example in enumerate(data):
        for shift in range(12):
            rows[12 * i + shift] = dense(example.evidence, example.tonic + shift)[used]
    heavy = np.array([e.weight * (rare if e.mode >= 2 else 1.0) for e in data])

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        scores = (rows @ weights.astype(np.float32)).astype(float).reshape(count, 12)
        scores -= scores.max(axis=1, keepdims=True)
        odds = np.exp(scores)
        total = odds.sum(axis=1)
        value = -(heavy * (scores[:, 0] - np.log(total))).sum()
        slope = odds / total[:, None]
        slope[:, 0] -= 1
        slope *= heavy[:, None]
        gradient = (slope.ravel().astype(np.float32) @ rows).astype(float)
        return (
            value + TONIC_PENALTY / 2 * weights @ weights,
            gradient + TONIC_PENALTY * weights,
        )

    found = minimize(loss, np.zeros(len(used)), jac=True, method="L-BFGS-B",
                     options={"maxiter": 200})  # fmt: skip
    singles = found.x[: single * 12].reshape(-1, 12)
    pairs = found.x[single * 12 :].reshape(-1, 12, 12)
    singles = singles * np.array([SCALE.get(k, 1.0) for k in SINGLES[:single]])[:, None]
    pairs = pairs * np.array([SCALE.get(k, 1.0) for k in PAIRS[:pair]])[:, None, None]
    together = PAIRS.index("together")
    pairs[together] = np.triu(pairs[together], 1) + np.triu(pairs[together], 1).T
    return TonicWeights(_rounded(singles), _rounded(pairs.reshape(-1, 144)))


def fit_mode(data: list[Example], length: int | str, *, given: bool) -> ModeWeights:
    """Weights of the mode model for a given or for an inferred tonic."""
    facts = np.array([[mode_facts(e.evidence, e.tonic, mode) for mode in range(4)] for e in data])
    labels = np.array([e.mode for e in data])
    heavy = np.array([e.weight for e in data])
    share = np.array([heavy[labels == mode].sum() for mode in range(4)])
    heavy = heavy * (share.sum() / 4 / share)[labels]
    width, states = len(MODE_FACTS), STATES[length] if given else 0
    at = np.arange(len(labels))
    heard = np.array([heard_degrees(e.evidence, e.tonic) for e in data])
    table = np.zeros((len(labels), states))
    if states:
        table[at, heard] = 1.0
    penalty = np.concatenate(
        [
            np.full(width, GIVEN_PENALTY[length] if given else MODE_PENALTY),
            np.full(4, BIAS_PENALTY),
            np.full(4 * states, HEARD_PENALTY),
        ]
    )

    def loss(weights: np.ndarray) -> tuple[float, np.ndarray]:
        own, bias = weights[:width], weights[width : width + 4]
        scores = facts @ own + bias + table @ weights[width + 4 :].reshape(states, 4)
        scores -= scores.max(axis=1, keepdims=True)
        odds = np.exp(scores)
        total = odds.sum(axis=1)
        value = -(heavy * (scores[at, labels] - np.log(total))).sum()
        slope = odds / total[:, None]
        slope[at, labels] -= 1
        slope *= heavy[:, None]
        gradient = np.concatenate(
            [np.einsum("nm,nmq->q", slope, facts), slope.sum(axis=0), (table.T @ slope).ravel()]
        )
        return value + (penalty * weights**2).sum() / 2, gradient + penalty * weights

    found = minimize(loss, np.zeros(len(penalty)), jac=True, method="L-BFGS-B")
    prior = np.log(share / share.sum()) * (0.0 if given else BELIEF[length])
    start = found.x[width : width + 4] + prior - prior.mean()
    rows = (found.x[:width], start, found.x[width + 4 :])
    return ModeWeights(*(_rounded(row[None])[0] for row in rows))


def fit(tunes: list[Labelled]) -> tuple[Weights, ...]:
    """All weights, shortest excerpts first."""
    fitted = []
    for length in reversed(LENGTHS):
        data = examples(tunes, length)
        counts = [example.evidence.count for example in data]
        notes = round(float(np.quantile(counts, 0.1 if length == "whole" else 0.5)))
        modes = [fit_mode(data, length, given=given) for given in (False, True)]
        fitted.append(Weights(notes, fit_tonic(data, length), *modes))
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
        text += "".join(f"        {_row(row)}\n" for row in fitted.tonic.singles)
        text += "    ), (\n"
        for table in fitted.tonic.pairs:
            rows = [_row(table[i : i + 12])[1:-2] for i in range(0, 144, 12)]
            text += "        (" + ",\n         ".join(rows) + "),\n"
        text += "    ))"
        for mode in (fitted.mode, fitted.given):
            text += ", ModeWeights(\n        " + _row(mode.facts) + "\n        " + _row(mode.start)
            rows = [_row(mode.heard[i : i + 16])[1:-2] for i in range(0, len(mode.heard), 16)]
            text += "\n        (" + ",\n         ".join(rows) + "),\n    )" if rows else "\n    )"
        text += "),\n"
    return text + ")\n# fmt: on\n"


def _row(values: tuple[float, ...]) -> str:
    shown = (f"{v:g}" for v in values)
    return "(" + ", ".join(v.replace("0.", ".", 1) if "0." in v[:3] else v for v in shown) + "),"


def main() -> None:
    """Fit on everything and write the module."""
    groups = load()
    tunes = [
        tune
        for group, own in groups.items()
        for tune in own
        if tune.mode != "major" or group != "Essen and Nottingham"
    ]
    path = Path(linewright.analysis.__file__).parent / "tonic_weights.py"
    path.write_text(source(fit(tunes), tunes), "utf-8")


if __name__ == "__main__":
    main()
