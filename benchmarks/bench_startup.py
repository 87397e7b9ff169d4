"""How long the command takes to start, against Python itself starting."""

from __future__ import annotations

import subprocess
import sys
import time
from statistics import median


def seconds(*arguments: str, repeats: int = 7) -> float:
    """Median wall time of a fresh Python process in seconds, after one warm-up."""
    times = []
    for _ in range(repeats + 1):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], capture_output=True, check=True)
        times.append(time.perf_counter() - start)
    return median(times[1:])


def run() -> list[tuple[str, float | None, float | None, float | None, str]]:
    """Rows of (what, ours, reference, ratio, target)."""
    ours = seconds("-m", "linewright", "--help")
    bare = seconds("-c", "pass")
    return [("linewright --help (s) / python -c pass", ours, bare, ours / bare, "< 0.4 s")]
