"""Print every speed ratio, each beside its named reference in the same run.

    python -m benchmarks            all of them
    python -m benchmarks NAME...    some: analysis, fingering, engraving, lick_page, abc, startup, lines,
                                  sound

The measures of quality print their own tables: ``python -m benchmarks.frame_recovery``,
``.tonic_mode``, ``.planted_figures``, ``.abc_agreement``, ``.hearing``.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable
from typing import NamedTuple

NAMES = ("analysis", "fingering", "engraving", "lick_page", "abc", "startup", "lines", "sound")


class Row(NamedTuple):
    """One measurement: ``ours`` and ``reference`` in the unit ``what`` names, ``target`` in words."""

    what: str
    ours: float | None
    reference: float | None
    ratio: float | None
    target: str


def number(value: float | None) -> str:
    """Four significant figures, or a dash."""
    return "-" if value is None else f"{value:.4g}"


def main(names: list[str]) -> int:
    """Run the named benchmarks and print their rows."""
    unknown = [name for name in names if name not in NAMES]
    if unknown:
        print(f"no benchmark is called {unknown[0]}; there are {', '.join(NAMES)}", file=sys.stderr)
        return 2
    print(f"{'what':64} {'ours':>10} {'reference':>10} {'ratio':>8}  target")
    for name in names or list(NAMES):
        run: Callable[[], list[tuple[str, float | None, float | None, float | None, str]]]
        run = importlib.import_module(f"benchmarks.bench_{name}").run
        for row in map(Row._make, run()):
            print(
                f"{row.what:64} {number(row.ours):>10} {number(row.reference):>10}"
                f" {number(row.ratio):>8}  {row.target}"
            )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
