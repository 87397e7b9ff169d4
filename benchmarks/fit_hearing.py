"""Fit the models of ``linewright.sound.hearing`` (``odds``, ``atoms``) and write ``weights.py``.

    python -m benchmarks.fit_hearing

Fitted on the nylon, jazz and banjo programs with seeds from 1000; the figures are measured on
seeds below 1000, and half of the programs (steel, electric, mandolin) are never fitted on. Each take
is heard clean, ringing, under one other condition, and with three clicks of other loudness.
"""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from benchmarks.hearing_takes import PROGRAMS, RATE, Take, delays, make_take, truth
from benchmarks.hearing_worse import CONDITIONS, clicks, coded
from linewright.sound.hearing import atoms, odds
from linewright.sound.hearing.evidence import Evidence, gather
from linewright.sound.hearing.frames import HOP
from linewright.sound.hearing.frames import RATE as OWN
from linewright.sound.hearing.listen import cleared
from linewright.sound.hearing.pitch import Range

FITTED = ("nylon", "jazz", "banjo")
SEEDS = range(1000, 1010)
REACH = Range(36, 100)
USED = (
    "30 dB noise", "20 dB noise", "room", "phone band", "opus 24 kbit/s", "soft clipping", "aac",
)  # fmt: skip
CLICKS = (0.05, 0.2, 0.5, 1.5)  # shares of the take's peak, none of them those measured
KNOWN = {
    **CONDITIONS,
    "aac": (False, coded("aac", "ipod", 48_000, 96_000)),
    **{f"click {s}": (False, clicks(s)) for s in CLICKS},
}  # fmt: skip
_NEAR = 0.035
OURS = 6  # last columns of ``odds.NAMES``: our own sound
_GLIDING = ("slid", "slide")  # these begin at another pitch than the one written


class Rows(NamedTuple):
    """What the models are fitted on.

    ``odds``: features of cuts; ``kinds``: for each 0 (nothing begins), 1 (same pitch), 2 (another
    pitch), and 10 more where it is slurred, 20 where it is soft; ``clicked``: which have clicks.
    ``begun``, ``held``: views of atoms at whose cut a note begins, and of those in which one goes
    on, none with clicks; ``begins``, ``holds``: the semitone written there.
    """

    odds: NDArray[np.float64]
    kinds: NDArray[np.int64]
    clicked: NDArray[np.bool_]
    begun: NDArray[np.float32]
    begins: NDArray[np.int64]
    held: NDArray[np.float32]
    holds: NDArray[np.int64]


def collect() -> Rows:
    """Take after take, heard once."""
    parts: list[list[NDArray[Any]]] = [[] for _ in Rows._fields]
    for program, seed in itertools.product(FITTED, SEEDS):
        take = make_take(program, seed)
        clicked = [f"click {CLICKS[(seed + k) % len(CLICKS)]}" for k in range(3)]
        for name in ("clean", "ringing strings", USED[seed % len(USED)], *clicked):
            ringing, worse = KNOWN[name]
            x = take.render(ringing=ringing)[: int((take.notes[-1].end + 1) * RATE)]
            x, given = worse(x, take, np.random.default_rng(seed))
            sound, _ = cleared(x, RATE, given.get("band"))
            seen = gather(sound, REACH)
            found = _looked_at(take, seen, len(x) / RATE, name in clicked)
            for part, new in zip(parts, found, strict=True):
                part.append(new)
    return Rows(*(np.concatenate(part) for part in parts))


def _looked_at(take: Take, seen: Evidence, seconds: float, clicked: bool) -> Rows:
    """The rows of one take."""
    at = seen.cuts * HOP / OWN
    kinds = np.zeros(len(at), np.int64)
    written = truth(take, delays())
    starts: dict[int, int] = {}
    for number, (onset, midi, way) in enumerate(written):
        near = int(np.argmin(np.abs(at - onset + 0.004)))
        if abs(at[near] - onset) < _NEAR:
            same = number > 0 and written[number - 1][1] == midi
            extra = 10 if way in ("slurred", "slide") else 20 if way == "soft" else 0
            kinds[near] = (1 if same else 2) + extra
            starts[near] = number
    begins, holds = np.full(len(at), -1), np.full(len(at), -1)
    middle = at + 0.5 * np.diff(at, append=seconds)
    for atom, moment in enumerate(middle):
        if atom in starts:
            if written[starts[atom]][2] not in _GLIDING:
                begins[atom] = written[starts[atom]][1] - REACH.low
            continue
        for note, end in zip(written, (n.end for n in take.notes), strict=True):
            if note[0] <= moment < end:
                holds[atom] = note[1] - REACH.low
    if clicked:
        begins[:] = holds[:] = -1
    begun, held = atoms.table(seen, seen.cuts)
    return Rows(
        odds.features(seen).astype(np.float64), kinds, np.full(len(at), clicked),
        begun[begins >= 0], begins[begins >= 0], held[holds >= 0], holds[holds >= 0],
    )  # fmt: skip


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
    rows = collect()
    x, kinds, clicked = rows.odds, rows.kinds, rows.clicked
    sure = (kinds > 0) & (kinds < 20) & ~clicked
    struck = logistic(x[sure], (kinds[sure] < 10).astype(float))
    wrong = np.mean((odds.likely(x[sure], tuple(struck)) > 0.5) != (kinds[sure] < 10))
    print(f"STRUCK: wrong {wrong:.4f}")
    kinds = kinds % 10
    found = []
    for name, other in (("AGAIN", 2), ("MOVE", 1)):
        keep = kinds != other
        y = kinds[keep] > 0
        w = in_two_steps(x[keep], y.astype(float), clicked[keep])
        wrong = np.mean((odds.likely(x[keep], tuple(w)) > 0.5) != y)
        print(f"{name}: {y.sum()} of {keep.sum()} cuts, wrong {wrong:.4f}")
        print("  " + ", ".join(f"{n} {v:.2f}" for n, v in zip(odds.NAMES, w, strict=True)))
        found.append(w)
    for name, views, chosen, names in (
        ("BEGUN", rows.begun, rows.begins, atoms.BEGUN_VIEWS),
        ("HELD", rows.held, rows.holds, atoms.HELD_VIEWS),
    ):
        w = choice(views, chosen)
        wrong = np.mean(np.argmax(views @ w.astype(np.float32), axis=1) != chosen)
        print(f"{name}: {len(chosen)} atoms, wrong {wrong:.4f}")
        print("  " + ", ".join(f"{n} {v:.2f}" for n, v in zip(names, w, strict=True)))
        found.append(w)
    again, move, begun, held = found
    path = Path(odds.__file__).with_name("weights.py")
    head = path.read_text().split("#: A new note of the same")[0]
    text = "".join(
        f"#: {what}\n{name}: Final = ({', '.join(f'{v:.3f}' for v in w)})  # fmt: skip\n"
        for name, w, what in (
            ("AGAIN", again, "A new note of the same pitch, by the columns of ``odds.NAMES``."),
            ("MOVE", move, "A new note of another pitch."),
            ("BEGUN", begun, "The semitone of a note that begins, by ``atoms.BEGUN_VIEWS``."),
            ("HELD", held, "The semitone of a note that goes on, by ``atoms.HELD_VIEWS``."),
            ("STRUCK", struck, "A new note that is struck, by the columns of ``odds.NAMES``."),
        )
    )
    path.write_text(head + text)


if __name__ == "__main__":
    assert set(FITTED) < set(PROGRAMS)
    main()
