"""Fitted numbers; written by ``python -m benchmarks.fit_hearing``, not by hand."""

from __future__ import annotations

from typing import Final

__all__ = ["AGAIN", "MOVE", "PITCH"]

#: A new note of the same pitch, by the columns of ``odds.NAMES``.
AGAIN: Final = (-0.545, 0.084, -0.306, 2.029, 1.109, 2.579, 2.844, 0.088, -1.017, -0.331, -0.132, 0.820, -1.359)  # fmt: skip
#: A new note of another pitch.
MOVE: Final = (-1.317, -0.200, -0.542, 1.431, 0.866, 3.050, 1.005, 4.878, 1.284, 0.607, -0.323, -1.645, -1.421)  # fmt: skip
#: A semitone, by the columns of ``atoms.VIEWS``.
PITCH: Final = (0.256, 0.725, 1.104, 0.377, -0.609, -0.706, -0.901, 0.567, 0.743, -0.174, 0.277, -1.391, 0.320, 0.172)  # fmt: skip
