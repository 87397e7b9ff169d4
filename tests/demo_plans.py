"""Plans of the demo licks, each made once for all tests of a process that ask for it.

Tests that use them bear ``pytest.mark.xdist_group("plans")``, or each process makes them again.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import linewright.services
from linewright.analysis import Analysis, analyze
from linewright.formats import read_bytes
from linewright.practice import Plan, make_plan
from linewright.score import Lick

DEMO = sorted((Path(linewright.services.__file__).parent / "demo").glob("*.tab"))
NAMES = [path.stem for path in DEMO]
#: Licks of a mandolin, a guitar and a five-string banjo, in 2/2, 4/4 and 2/4: planned at every level.
EVERY_LEVEL = (NAMES[1], NAMES[6], NAMES[17])
CASES = [(name, "working") for name in NAMES] + [
    (name, level) for name in EVERY_LEVEL for level in ("beginner", "fluent")
]


def path_of(name: str) -> Path:
    """The file of a lick, by its number or its whole name."""
    return next(p for p in DEMO if p.stem == name or p.stem.startswith(f"{name}-"))


@cache
def _read(path: Path) -> Lick:
    return read_bytes(path.read_bytes(), path.name)


@cache
def _analysis(path: Path) -> Analysis:
    return analyze(_read(path))


@cache
def _plan(path: Path, level: str, length: str) -> Plan:
    return make_plan(_analysis(path), level=level, length=length, seed=0)


def lick(name: str) -> Lick:
    return _read(path_of(name))


def analysis(name: str) -> Analysis:
    return _analysis(path_of(name))


def plan(name: str, level: str = "working", length: str = "week") -> Plan:
    return _plan(path_of(name), level, length)
