"""Fitted numbers; written by ``python -m benchmarks.fit_hearing``, not by hand."""

from __future__ import annotations

from typing import Final

__all__ = ["AGAIN", "BEGUN", "HELD", "MOVE", "STRUCK"]

#: A new note of the same pitch, by the columns of ``odds.NAMES``.
AGAIN: Final = (6.229, 1.258, -0.307, 2.228, 1.977, 1.995, 2.949, 0.617, -0.474, -0.274, 0.902, -0.311, -1.378, 0.523, -4.865, -1.137, -2.344, 2.561, -1.736, -0.922, -0.120, 0.152, 0.785, 0.310, 1.654, -0.133, 0.283, -3.154, 4.268, -0.989, 1.228)  # fmt: skip
#: A new note of another pitch.
MOVE: Final = (2.758, 2.508, -0.239, 1.453, 0.939, 2.644, 1.037, 2.009, 0.880, 1.497, 0.412, -0.567, -1.640, 0.179, -4.945, -1.737, 2.405, -2.355, -1.685, -0.861, 0.699, 0.453, 1.647, 0.200, 0.877, -1.369, 0.045, -3.499, 5.504, 0.060, 1.096)  # fmt: skip
#: The semitone of a note that begins, by ``atoms.BEGUN_VIEWS``.
BEGUN: Final = (0.715, 0.849, 0.722, 2.973, -0.426, -0.649, 0.159, 1.402, 1.025, -0.227, 1.511, -1.644, 0.411, 1.528, 0.811, -0.815, -0.525, -0.637, 0.187, 0.473, 0.604, 1.194, 0.127, -0.311, -0.697)  # fmt: skip
#: The semitone of a note that goes on, by ``atoms.HELD_VIEWS``.
HELD: Final = (0.538, 0.748, 1.301, 0.439, -0.624, -0.580, -1.836, 1.591, 0.740, -0.642, 0.279, -1.182, 0.366, 0.320)  # fmt: skip
#: A new note that is struck, by the columns of ``odds.NAMES``.
STRUCK: Final = (8.101, 2.494, 0.392, -0.406, 0.347, -0.437, 7.595, -1.946, -0.504, 1.323, 0.500, -1.822, 0.641, 0.145, -1.486, -0.273, -2.248, 2.321, -1.356, -0.263, -1.126, -1.112, 0.178, 0.511, -3.459, 0.000, 0.000, 0.000, 0.000, 0.000, 0.000)  # fmt: skip
