"""Fitted numbers; written by ``python -m benchmarks.fit_hearing``, not by hand."""

from __future__ import annotations

from typing import Final

__all__ = ["AGAIN", "BEGUN", "HELD", "MOVE", "STRUCK"]

#: A new note of the same pitch, by the columns of ``odds.NAMES``.
AGAIN: Final = (5.235, 1.229, -0.356, 2.270, 2.015, 1.878, 2.942, 0.676, -0.499, -0.100, 0.849, -0.248, -1.409, 0.242, -4.846, -1.117, -2.421, 2.519, -1.641, -1.012, 0.693, 0.730, 0.846, 0.176, 1.581, -4.240, -0.305, -1.766, 4.945, -0.716, 0.606)  # fmt: skip
#: A new note of another pitch.
MOVE: Final = (1.499, 2.461, -0.372, 1.578, 1.230, 2.297, 0.931, 2.372, 0.947, 1.894, 0.279, -0.529, -1.674, -0.286, -4.699, -1.605, 2.194, -2.347, -1.388, -0.931, 1.922, 1.558, 1.291, -0.488, 0.437, -4.648, -0.541, -1.718, 6.079, 0.813, 0.386)  # fmt: skip
#: The semitone of a note that begins, by ``atoms.BEGUN_VIEWS``.
BEGUN: Final = (0.686, 0.863, 0.748, 2.972, -0.482, -0.657, 0.184, 1.407, 1.034, -0.253, 1.511, -1.644, 0.404, 1.520, 0.811, -0.815, -0.527, -0.629, 0.175, 0.477, 0.602, 1.179, 0.149, -0.310, -0.695)  # fmt: skip
#: The semitone of a note that goes on, by ``atoms.HELD_VIEWS``.
HELD: Final = (0.543, 0.746, 1.293, 0.444, -0.682, -0.542, -1.793, 1.573, 0.737, -0.643, 0.286, -1.156, 0.362, 0.313)  # fmt: skip
#: A new note that is struck, by the columns of ``odds.NAMES``.
STRUCK: Final = (8.115, 2.492, 0.386, -0.403, 0.345, -0.440, 7.589, -1.935, -0.497, 1.319, 0.500, -1.821, 0.642, 0.148, -1.494, -0.268, -2.258, 2.332, -1.352, -0.248, -1.137, -1.119, 0.154, 0.499, -3.477, 0.000, 0.000, 0.000, 0.000, 0.000, 0.000)  # fmt: skip
