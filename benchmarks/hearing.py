"""Hearing: note F1 by mir_eval, beside librosa pYIN + onsets and swift-f0's own segmenter.

    python -m benchmarks.hearing            our figures, under every condition
    python -m benchmarks.hearing --against  the other two as well
    python -m benchmarks.hearing --own      the project's own voices instead of the sampler

2,240 notes a condition: 7 seeds of 64 notes on each of the programs steel, electric and mandolin
(never fitted on) and nylon and jazz (fitted on, with other seeds). A note is right when its onset
is within 50 (or 25) ms and its pitch within 50 cents (mir_eval.transcription without offsets;
Raffel and others, ISMIR 2014). Takes and their sampler: ``hearing_takes``; what is done to them:
``hearing_worse``.
"""

from __future__ import annotations

import argparse
import sys
import time
import warnings
from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from mir_eval.transcription import match_notes
from numpy.typing import NDArray

from benchmarks.hearing_takes import OWN, RATE, available, delays, make_take, truth
from benchmarks.hearing_worse import CONDITIONS
from linewright.sound.hearing import hear

PROGRAMS = ("steel", "electric", "mandolin", "nylon", "jazz")
SEEDS = range(301, 308)
Notes = list[tuple[float, float]]  # onset in seconds, pitch in Hz


class Result(NamedTuple):
    """Sums over the takes of one condition."""

    right50: int
    right25: int
    written: int
    found: int
    errors: NDArray[np.float64]
    cpu: float
    seconds: float
    trusted: tuple[int, int]  # right and all of those with confidence of at least 0.9
    doubted: tuple[int, int]  # the others

    def f1(self, ms: int) -> float:
        return 2 * (self.right50 if ms == 50 else self.right25) / max(1, self.written + self.found)


def ours(x: NDArray[np.float32], given: dict[str, Any]) -> tuple[Notes, list[float]]:
    heard = hear(x, RATE, **given)
    tuned = heard.tuning_cents / 100
    notes = [(n.onset_s, 440 * 2 ** ((n.midi + tuned - 69) / 12)) for n in heard.notes]
    return notes, [n.confidence for n in heard.notes]


def pyin(x: NDArray[np.float32], _given: dict[str, Any]) -> tuple[Notes, list[float]]:
    """librosa: notes between its onsets and changes of pYIN's rounded pitch."""
    import librosa

    y = librosa.resample(x, orig_sr=RATE, target_sr=22_050)
    hz, voiced, _ = librosa.pyin(y, fmin=65, fmax=2100, sr=22_050, hop_length=256)
    onsets = librosa.onset.onset_detect(y=y, sr=22_050, hop_length=256, units="frames")
    midi = np.where(voiced, np.round(librosa.hz_to_midi(np.where(voiced, hz, 440))), -1)
    cuts = sorted({0, len(midi), *onsets, *(1 + np.flatnonzero(np.diff(midi)))})
    out: Notes = []
    last, starts = -1.0, {int(k) for k in onsets}
    for a, b in pairwise(cuts):
        pitch = float(midi[min(a + 2, b - 1)])
        if pitch >= 0 and b - a >= 4 and (pitch != last or a in starts):
            out.append((a * 256 / 22_050, float(librosa.midi_to_hz(pitch))))
        last = pitch if pitch >= 0 else last
    return out, [1.0] * len(out)


def swift(x: NDArray[np.float32], _given: dict[str, Any]) -> tuple[Notes, list[float]]:
    """swift-f0's own segmenter."""
    from swift_f0 import SwiftF0, segment_notes

    if not hasattr(swift, "model"):
        swift.model = SwiftF0()  # type: ignore[attr-defined]
    notes = segment_notes(swift.model.detect(x, RATE))  # type: ignore[attr-defined]
    return [(n.start, n.pitch_hz) for n in notes], [1.0] * len(notes)


def measure(
    name: str,
    listen: Callable[[NDArray[np.float32], dict[str, Any]], tuple[Notes, list[float]]],
    programs: tuple[str, ...] = PROGRAMS,
    seeds: range = SEEDS,
) -> Result:
    """Hear every take under one condition."""
    ringing, worse = CONDITIONS[name]
    late = delays()
    sums = np.zeros(4, int)
    sure = np.zeros((2, 2), int)
    errors: list[float] = []
    cpu = seconds = 0.0
    for program in programs:
        for seed in seeds:
            take = make_take(program, seed)
            x = take.render(ringing=ringing)[: int((take.notes[-1].end + 1) * RATE)]
            x, given = worse(x, take, np.random.default_rng(seed))
            stretch = given.pop("stretch", 1.0)
            start = time.process_time()
            found, confidence = listen(x, given)
            cpu += time.process_time() - start
            seconds += len(x) / RATE
            written = [
                (t * stretch, 440 * 2 ** ((m - 69) / 12) / stretch) for t, m, _ in truth(take, late)
            ]
            for k, tolerance in enumerate((0.05, 0.025)):
                pairs = _matched(written, found, tolerance)
                sums[k] += len(pairs)
                if k == 0:
                    errors += [found[j][0] - written[i][0] for i, j in pairs]
                    right = {j for _, j in pairs}
                    for j, value in enumerate(confidence):
                        sure[int(value < 0.9)] += (j in right, 1)
            sums[2:] += len(written), len(found)
    return Result(*map(int, sums), np.array(errors), cpu, seconds, tuple(sure[0]), tuple(sure[1]))


def _matched(written: Notes, found: Notes, tolerance: float) -> list[tuple[int, int]]:
    if not found:
        return []
    parts = []
    for notes in (written, found):
        onsets = np.array([t for t, _ in notes])
        parts += [np.stack([onsets, onsets + 0.05], axis=1), np.array([hz for _, hz in notes])]
    return list(
        match_notes(*parts, onset_tolerance=tolerance, pitch_tolerance=50.0, offset_ratio=None)
    )


def rows(
    names: list[str], against: bool, programs: tuple[str, ...] = PROGRAMS
) -> Iterator[tuple[str, Result, dict[str, Result]]]:
    """Results by condition: ours, and by the name of the other listener."""
    others = {"pyin": pyin, "swift": swift} if against else {}
    for name in names:
        yield (
            name,
            measure(name, ours, programs),
            {k: measure(name, f, programs) for k, f in others.items()},
        )


def main(arguments: list[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--against", action="store_true", help="measure the other listeners too")
    parser.add_argument("--own", action="store_true", help="measure on the project's own voices")
    parser.add_argument("conditions", nargs="*", help="some of: " + ", ".join(CONDITIONS))
    chosen = parser.parse_args(arguments)
    if not (chosen.own or available()):
        print("needs fluidsynth and fluid-soundfont-gm", file=sys.stderr)
        return 2
    warnings.simplefilter("ignore")
    head = "| condition | F1 50 ms | F1 25 ms | early (-) or late, ms | spread, ms | sure notes right | doubtful right | x real time |"
    extra = " librosa pYIN 50/25 | swift-f0 50/25 |" if chosen.against else ""
    print(head + extra)
    print("|---" * (head.count("|") - 1 + extra.count("|")) + "|")
    for name, own, others in rows(
        chosen.conditions or list(CONDITIONS),
        chosen.against,
        tuple(OWN) if chosen.own else PROGRAMS,
    ):
        errors = 1000 * own.errors
        cells = [
            name, f"{own.f1(50):.3f}", f"{own.f1(25):.3f}", f"{errors.mean():+.1f}",
            f"{errors.std():.1f}", f"{own.trusted[0] / max(1, own.trusted[1]):.3f} of {own.trusted[1]}",
            f"{own.doubted[0] / max(1, own.doubted[1]):.2f} of {own.doubted[1]}",
            f"{own.seconds / own.cpu:.0f}", *(f"{o.f1(50):.3f}/{o.f1(25):.3f}" for o in others.values()),
        ]  # fmt: skip
        print("| " + " | ".join(cells) + " |", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
