"""How fast a recording is heard, from a fresh process, against its own length; and how well.

    python -m benchmarks.bench_hearing

Processor time of one core: imports, decoding and hearing of 30 seconds, alone, with clicks to take
out, and with a second instrument that sounds throughout to take out.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import wave
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from benchmarks.hearing import measure, ours, pyin
from benchmarks.hearing_takes import RATE, available, make_take
from benchmarks.hearing_worse import clicks

_SECONDS = 30
_RUNS = 5
_CHILD = """
import sys, time
from linewright.services.hearing import hear_file
hear_file(open(sys.argv[1], "rb").read())
print(time.process_time())
"""
_CHILD_WITH_BAND = """
import sys, time
from linewright.sound.decode import decode
from linewright.sound.hearing import hear
take, band = (decode(open(name, "rb").read()) for name in sys.argv[1:])
assert hear(take.samples, take.rate, band=band.samples).echo_s is not None
print(time.process_time())
"""
_ONE_CORE = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def _long(program: str, seeds: tuple[int, ...]) -> NDArray[np.float32]:
    return np.concatenate([make_take(program, s).render() for s in seeds])[: _SECONDS * RATE]


def _write(path: Path, sound: NDArray[np.float32]) -> str:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())
    return str(path)


def _mixed() -> dict[str, tuple[NDArray[np.float32], ...]]:
    """Takes of 30 seconds, with what was played to the player where something was."""
    alone = _long("steel", (101, 102, 103))
    parts = []
    for seed in (101, 102, 103):
        take = make_take("steel", seed)
        heard, given = clicks(0.1)(take.render(), take, np.random.default_rng(1))
        parts.append((heard, given["band"]))
    clicked = [np.concatenate(row)[: _SECONDS * RATE] for row in zip(*parts, strict=True)]
    band = _long("nylon", (104, 105, 106))
    band = np.pad(band, (0, max(0, len(alone) - len(band))))[: len(alone)]
    late = np.pad(band, (round(0.03 * RATE), 0))[: len(alone)]
    return {
        "alone": (alone,),
        "with clicks": (clicked[0], clicked[1]),
        "with a band": ((alone + 0.3 * late).astype(np.float32), band),
    }


def speeds() -> dict[str, float]:
    """Seconds of processor time by kind of take: the least of some runs, in turn."""
    least: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as folder:
        files = {
            kind: [_write(Path(folder, f"{kind} {k}.wav"), x) for k, x in enumerate(sounds)]
            for kind, sounds in _mixed().items()
        }
        for _ in range(_RUNS):
            for kind, names in files.items():
                child = _CHILD if len(names) == 1 else _CHILD_WITH_BAND
                done = subprocess.run(
                    [sys.executable, "-c", child, *names],
                    capture_output=True, check=True, env={**os.environ, **_ONE_CORE},
                )  # fmt: skip
                least[kind] = min(float(done.stdout), least.get(kind, np.inf))
    return least


def run() -> list[tuple[str, float | None, float | None, float | None, str]]:
    """Rows of (what, ours, reference, ratio, target)."""
    if not available():
        return [("hearing: needs fluidsynth and fluid-soundfont-gm", None, None, None, "-")]
    rows: list[tuple[str, float | None, float | None, float | None, str]] = [
        (f"hear 30 s {kind}, all loaded anew (s of processor) / 30 s", cpu, 30.0, 30 / cpu, ">= 20")
        for kind, cpu in speeds().items()
    ]
    for name in ("clean", "ringing strings"):
        own, other = (measure(name, f, ("steel",), range(101, 103)) for f in (ours, pyin))
        rows.append((f"note F1 at 50 ms, {name} / librosa pYIN", own.f1(50), other.f1(50), own.f1(50) / other.f1(50), ">= 0.99 / 0.97"))  # fmt: skip
    return rows


if __name__ == "__main__":
    for kind, cpu in speeds().items():
        print(f"30 s {kind}: {cpu:.2f} s of processor time, {30 / cpu:.1f} times real time")
