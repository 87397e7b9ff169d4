"""Fitted numbers; written by ``python -m benchmarks.fit_hearing``, not by hand."""

from __future__ import annotations

from typing import Final

__all__ = ["AGAIN", "MOVE", "PITCH", "STRUCK"]

#: A new note of the same pitch, by the columns of ``odds.NAMES``.
AGAIN: Final = (0.158, -0.044, -0.235, 2.371, 1.676, 3.380, 1.215, -1.023, -1.544, 1.678, 0.231, 0.733, -1.711, -1.351, 0.244, -0.375)  # fmt: skip
#: A new note of another pitch.
MOVE: Final = (-1.013, -0.054, -0.451, 1.838, 1.441, 2.359, -0.431, 4.176, 1.063, 2.839, -0.057, -2.294, -1.821, -0.292, 0.132, -0.681)  # fmt: skip
#: A semitone, by the columns of ``atoms.VIEWS``.
PITCH: Final = (0.511, 0.594, 1.068, 0.423, -0.995, -0.472, -0.825, 0.759, 0.712, -0.038, 0.283, -1.331, 0.313, 0.183)  # fmt: skip
#: A new note that is struck, by the columns of ``odds.NAMES``.
STRUCK: Final = (6.200, 1.035, 0.344, -0.044, 0.660, -1.000, 9.859, -4.512, -0.610, -1.945, 0.333, -3.637, 0.298, -0.237, 0.174, 1.855)  # fmt: skip
