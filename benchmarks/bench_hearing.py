"""How fast a recording is heard, from a fresh process, against its own length; and how well."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import wave
from pathlib import Path

import numpy as np

from benchmarks.hearing import measure, ours, pyin
from benchmarks.hearing_takes import RATE, available, make_take

_CHILD = """
import sys, time
from linewright.services.hearing import hear_file
hear_file(open(sys.argv[1], "rb").read())
print(time.process_time())
"""


def run() -> list[tuple[str, float | None, float | None, float | None, str]]:
    """Rows of (what, ours, reference, ratio, target)."""
    if not available():
        return [("hearing: needs fluidsynth and fluid-soundfont-gm", None, None, None, "-")]
    rows: list[tuple[str, float | None, float | None, float | None, str]] = []
    sound = np.concatenate([make_take("steel", s).render() for s in (101, 102, 103)])[: 30 * RATE]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "take.wav")
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE)
            file.writeframes((sound * 32767).astype("<i2").tobytes())
        times = [
            float(subprocess.run([sys.executable, "-c", _CHILD, str(path)], capture_output=True, check=True).stdout)
            for _ in range(3)
        ]  # fmt: skip
    cpu = min(times)
    rows.append(
        ("hear 30 s, all loaded anew (s of processor) / 30 s", cpu, 30.0, 30 / cpu, ">= 20")
    )
    for name in ("clean", "ringing strings"):
        own, other = (measure(name, f, ("steel",), range(101, 103)) for f in (ours, pyin))
        rows.append((f"note F1 at 50 ms, {name} / librosa pYIN", own.f1(50), other.f1(50), own.f1(50) / other.f1(50), ">= 0.99 / 0.97"))  # fmt: skip
    return rows
