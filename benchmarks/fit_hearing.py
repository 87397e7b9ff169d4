"""Fit the models of ``linewright.sound.hearing`` (``odds``, ``atoms``) and write ``weights.py``.

    python -m benchmarks.fit_hearing

Fitted on the nylon, jazz and banjo programs with seeds from 1000; the figures are measured on
seeds below 1000, and half of the programs (steel, electric, mandolin) are never fitted on.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from benchmarks.hearing_takes import PROGRAMS, RATE, delays, make_take, truth
from benchmarks.hearing_worse import CONDITIONS, clicks, coded
from linewright.sound.hearing import atoms, odds
from linewright.sound.hearing.evidence import gather
from linewright.sound.hearing.frames import HOP
from linewright.sound.hearing.frames import RATE as OWN
from linewright.sound.hearing.listen import cleared
from linewright.sound.hearing.pitch import Range

FITTED = ("nylon", "jazz", "banjo")
SEEDS = range(1000, 1007)
USED = (
    "30 dB noise", "20 dB noise", "room", "phone band", "opus 24 kbit/s", "soft clipping", "aac",
)  # fmt: skip
CLICKS = (0.05, 0.2, 0.5, 1.5)  # shares of the take's peak, none of them those measured
KNOWN = {
    **CONDITIONS,
    "aac": (False, coded("aac", "ipod", 48_000, 96_000)),
    **{f"click {s} {told}": (False, clicks(s, told=told)) for s in CLICKS for told in ("band", "times")},
}  # fmt: skip
_NEAR = 0.035
OURS = 3  # last columns of ``odds.NAMES``: our own sound


def collect() -> tuple[
    NDArray[np.float64],
    NDArray[np.int64],
    NDArray[np.float32],
    NDArray[np.int64],
    NDArray[np.bool_],
]:
    """Rows of features of cuts, and for each 0 (nothing begins), 1 (same pitch), 2 (another pitch);
    views of atoms, and for each the semitone that sounds (no clicks here); which rows have clicks.
    """
    rows, kinds, views, pitches, clicked = [], [], [], [], []
    for program in FITTED:
        for seed in SEEDS:
            take = make_take(program, seed)
            condition = USED[seed % len(USED)]
            share = CLICKS[seed % len(CLICKS)]
            told = [f"click {share} {way}" for way in ("band", "times")]
            for name in ("clean", "ringing strings", condition, *told):
                ringing, worse = KNOWN[name]
                x = take.render(ringing=ringing)[: int((take.notes[-1].end + 1) * RATE)]
                x, given = worse(x, take, np.random.default_rng(seed))
                band, times = given.get("band"), given.get("click_times")
                sound, _ = cleared(x, RATE, times, band)
                seen = gather(sound, Range(36, 100))
                at = seen.cuts * HOP / OWN
                kind = np.zeros(len(at), np.int64)
                last = -1
                for onset, midi, way in truth(take, delays()):
                    near = int(np.argmin(np.abs(at - onset + 0.004)))
                    if abs(at[near] - onset) < _NEAR:
                        kind[near] = (1 if midi == last else 2) + (
                            10 if way in ("slurred", "slide") else 20 if way == "soft" else 0
                        )
                    last = midi
                view = atoms.table(seen, seen.cuts)
                middle = at + 0.5 * np.diff(at, append=len(x) / RATE)
                written = truth(take, delays())
                ends = [n.end for n in take.notes]
                for atom, moment in enumerate(middle):
                    note = next(
                        (k for k in range(len(written)) if written[k][0] <= moment < ends[k]), None
                    )
                    if note is not None and name not in told:
                        views.append(view[atom])
                        pitches.append(written[note][1] - 36)
                rows.append(odds.features(seen))
                kinds.append(kind)
                clicked.append(np.full(len(kind), name in told))
    return (
        np.concatenate(rows).astype(np.float64),
        np.concatenate(kinds),
        np.stack(views),
        np.array(pitches),
        np.concatenate(clicked),
    )


def choice(views: NDArray[np.float32], chosen: NDArray[np.int64]) -> NDArray[np.float64]:
    """Weights of the conditional logistic model, by L-BFGS with a small ridge."""
    row = np.arange(len(views))

    def loss(w: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        raw = views @ w.astype(np.float32)
        raw -= raw.max(axis=1, keepdims=True)
        p = np.exp(raw)
        p /= p.sum(axis=1, keepdims=True)
        hit = p[row, chosen]
        # 2 % of atoms may be anything (what rings on under a rest, a slide on its way)
        value = -np.sum(np.log(0.98 * hit + 0.02 / views.shape[1])) + 0.5 * np.sum(w**2)
        pull = 0.98 * hit / (0.98 * hit + 0.02 / views.shape[1])
        q = p * pull[:, None]
        q[row, chosen] -= pull
        return float(value), np.einsum("as,asv->v", q, views).astype(np.float64) + w

    start = np.full(views.shape[2], 0.1)
    return np.asarray(minimize(loss, start, jac=True, method="L-BFGS-B").x)


def logistic(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    ridge: float = 1.0,
    given: NDArray[np.float64] | float = 0.0,
) -> NDArray[np.float64]:
    """Newton's method with a ridge on all but the constant; ``given`` is added to the odds."""
    w = np.zeros(x.shape[1])
    penalty = ridge * np.eye(len(w))
    if np.all(x[:, 0] == 1):
        penalty[0, 0] = 1e-6

    def cost(w: NDArray[np.float64]) -> float:
        odd = x @ w + given
        return float(np.sum(np.logaddexp(0, odd) - y * odd) + 0.5 * w @ penalty @ w)

    for _ in range(40):
        p = 1 / (1 + np.exp(-np.clip(x @ w + given, -30, 30)))
        gradient = x.T @ (p - y) + penalty @ w
        hessian = (x * (p * (1 - p))[:, None]).T @ x + penalty
        step = np.linalg.solve(hessian, gradient)
        while cost(w - step) > cost(w) + 1e-9 and np.max(np.abs(step)) > 1e-9:
            step = step / 2
        w -= step
        if np.max(np.abs(step)) < 1e-8:
            break
    return w


def in_two_steps(
    x: NDArray[np.float64], y: NDArray[np.float64], clicked: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """First without clicks; then, that held fixed, what our own sound adds, on takes with clicks.

    So what is heard where there is no click does not depend on the takes that have one.
    """
    plain = len(odds.NAMES) - OURS
    first = logistic(x[~clicked][:, :plain], y[~clicked])
    given = x[clicked][:, :plain] @ first
    return np.append(first, logistic(x[clicked][:, plain:], y[clicked], given=given))


def main() -> None:
    x, kinds, views, pitches, clicked = collect()
    sure = (kinds > 0) & (kinds < 20) & ~clicked
    struck = logistic(x[sure], (kinds[sure] < 10).astype(float))
    print(
        f"STRUCK: wrong {np.mean((odds.likely(x[sure].astype(np.float32), tuple(struck)) > 0.5) != (kinds[sure] < 10)):.4f}"
    )
    kinds = kinds % 10
    again = in_two_steps(x[kinds != 2], (kinds[kinds != 2] == 1).astype(float), clicked[kinds != 2])
    move = in_two_steps(x[kinds != 1], (kinds[kinds != 1] == 2).astype(float), clicked[kinds != 1])
    for name, w, other in (("AGAIN", again, 2), ("MOVE", move, 1)):
        keep = kinds != other
        p = odds.likely(x[keep].astype(np.float32), tuple(w))
        wrong = np.mean((p > 0.5) != (kinds[keep] > 0))
        print(f"{name}: {np.sum(kinds[keep] > 0)} of {keep.sum()} cuts, wrong {wrong:.4f}")
        print("  " + ", ".join(f"{n} {v:.2f}" for n, v in zip(odds.NAMES, w, strict=True)))
    pitch = choice(views, pitches)
    wrong = np.mean(np.argmax(views @ pitch.astype(np.float32), axis=1) != pitches)
    print(f"PITCH: {len(pitches)} atoms, wrong {wrong:.4f}")
    print("  " + ", ".join(f"{n} {v:.2f}" for n, v in zip(atoms.VIEWS, pitch, strict=True)))
    path = Path(odds.__file__).with_name("weights.py")
    head = path.read_text().split("#: A new note of the same")[0]
    text = "".join(
        f"#: {what}\n{name}: Final = ({', '.join(f'{v:.3f}' for v in w)})  # fmt: skip\n"
        for name, w, what in (
            ("AGAIN", again, "A new note of the same pitch, by the columns of ``odds.NAMES``."),
            ("MOVE", move, "A new note of another pitch."),
            ("PITCH", pitch, "A semitone, by the columns of ``atoms.VIEWS``."),
            ("STRUCK", struck, "A new note that is struck, by the columns of ``odds.NAMES``."),
        )
    )
    path.write_text(head + text)


if __name__ == "__main__":
    assert set(FITTED) < set(PROGRAMS)
    main()
