"""Fitted numbers; written by ``python -m benchmarks.fit_hearing``, not by hand."""

from __future__ import annotations

from typing import Final

__all__ = ["AGAIN", "MOVE", "PITCH", "STRUCK"]

#: A new note of the same pitch, by the columns of ``odds.NAMES``.
AGAIN: Final = (-0.421, -0.275, -0.297, 2.580, 1.990, 2.881, 3.126, -0.254, -0.937, -0.023, 0.009, 0.947, -2.145, -1.244, 0.228, -1.889)  # fmt: skip
#: A new note of another pitch.
MOVE: Final = (-1.320, -0.159, -0.508, 1.777, 1.601, 2.775, 0.576, 4.200, 1.587, 1.513, -0.158, -1.539, -2.038, -0.307, 0.047, -1.280)  # fmt: skip
#: A semitone, by the columns of ``atoms.VIEWS``.
PITCH: Final = (0.500, 0.609, 1.083, 0.442, -0.903, -0.486, -0.899, 0.803, 0.669, -0.064, 0.294, -1.320, 0.344, 0.227)  # fmt: skip
#: A new note that is struck, by the columns of ``odds.NAMES``.
STRUCK: Final = (6.273, 0.999, 0.335, 0.206, 0.956, -0.211, 8.037, -4.382, -0.774, -2.352, 0.145, -2.960, 0.056, 0.000, 0.000, 0.000)  # fmt: skip
