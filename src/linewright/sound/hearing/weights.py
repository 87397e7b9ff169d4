"""Fitted numbers; written by ``python -m benchmarks.fit_hearing``, not by hand."""

from __future__ import annotations

from typing import Final

__all__ = ["AGAIN", "MOVE", "PITCH", "STRUCK"]

#: A new note of the same pitch, by the columns of ``odds.NAMES``.
AGAIN: Final = (-0.545, 0.084, -0.306, 2.029, 1.109, 2.579, 2.844, 0.088, -1.017, -0.331, -0.132, 0.820, -1.359)  # fmt: skip
#: A new note of another pitch.
MOVE: Final = (-1.317, -0.200, -0.542, 1.431, 0.866, 3.050, 1.005, 4.878, 1.284, 0.607, -0.323, -1.645, -1.421)  # fmt: skip
#: A semitone, by the columns of ``atoms.VIEWS``.
PITCH: Final = (0.253, 0.728, 1.102, 0.378, -0.607, -0.707, -0.898, 0.562, 0.743, -0.175, 0.276, -1.390, 0.319, 0.172)  # fmt: skip
#: A new note that is struck, by the columns of ``odds.NAMES``.
STRUCK: Final = (5.094, 0.745, 0.346, 0.211, 0.900, -0.802, 7.796, -3.944, -0.729, -1.878, -0.157, -2.919, -0.031)  # fmt: skip
