"""The instrument's body as a sum of resonances, each a decaying sinusoid.

``H(s) = 1/2 sum_m b_m / (s - q_m) + conjugate`` turns the force of the strings on the bridge
into sound. The few lowest resonances of each instrument stand where the literature puts them
(Fletcher and Rossing, *The Physics of Musical Instruments*, 2nd ed. 1998, chapter 9, recalled
from memory: a guitar's air near 100 Hz and top near 200 Hz, a mandolin's about twice as high).
Above them modes lie too close to tell apart, so they are spread evenly with scattered heights
and signs, the same for every instrument of a kind.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["BODIES", "Body"]

_Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class Body:
    """Resonances of a body.

    Parameters
    ----------
    low : tuple of (float, float, float)
        The resonances told apart: frequency in Hz, quality factor, height.
    dense_from, dense_to : float
        Range in Hz of the resonances that are not told apart.
    dense_count : int
        How many stand for them, evenly spread on a logarithmic scale.
    dense_q, dense_height : float
    tilt : float
        Power of frequency by which the dense resonances grow.
    seed : int
        Of their scatter.
    """

    low: tuple[tuple[float, float, float], ...]
    dense_from: float
    dense_to: float
    dense_count: int
    dense_q: float
    dense_height: float
    tilt: float = 0.0
    seed: int = 1

    @cached_property
    def modes(self) -> tuple[_Complex, _Complex]:
        """Poles in 1/s and residues of every resonance."""
        scatter = np.random.default_rng(self.seed)
        grid = np.geomspace(self.dense_from, self.dense_to, self.dense_count)
        step = np.log(grid[1] / grid[0])
        dense = grid * np.exp(scatter.uniform(-0.35, 0.35, len(grid)) * step)
        height = self.dense_height * (dense / self.dense_from) ** self.tilt
        height *= np.exp(scatter.normal(0, 0.25, len(grid))) * scatter.choice(
            (-1.0, 1.0), len(grid)
        )
        told = np.array(self.low).T
        frequency = np.concatenate((told[0], dense))
        quality = np.concatenate((told[1], np.full(len(grid), self.dense_q)))
        tall = np.concatenate((told[2], height))
        decay = np.pi * frequency / quality
        # A body has mass: its answer to an impulse starts from nothing, so the residues add up
        # to nothing. The dense resonances give way, each by its share.
        loose = decay[len(told[0]) :]
        tall[len(told[0]) :] -= loose * (decay @ tall) / (loose @ loose)
        return -decay + 2j * np.pi * frequency, (2 * decay * tall).astype(np.complex128)

    def response(self, s: _Complex) -> _Complex:
        """H at the complex frequencies ``s`` (1/s), same shape."""
        poles, residues = self.modes
        near = residues / (s[:, None] - poles)
        mirrored = residues.conj() / (s[:, None] - poles.conj())
        total: _Complex = 0.5 * (near + mirrored).sum(axis=1)
        return total

    def driven(self, poles: _Complex, force: _Complex) -> _Complex:
        """What the body's own resonances ring with when a force ``sum a e^(st)`` sets in."""
        own, residues = self.modes
        drive = force / (own[:, None] - poles) + force.conj() / (own[:, None] - poles.conj())
        ringing: _Complex = 0.5 * residues * drive.sum(axis=1)
        return ringing

    def carried(self, poles: _Complex, force: _Complex) -> _Complex:
        """The state of the body's resonances under a force that has long been sounding."""
        return -self.driven(poles, force)


#: Bodies by name.
BODIES: dict[str, Body] = {
    "flat-top guitar": Body(
        ((103.0, 10.0, 0.75), (191.0, 11.0, 0.95), (236.0, 16.0, -0.5), (287.0, 18.0, 0.7),
         (386.0, 20.0, -0.8), (497.0, 20.0, 0.8)),
        580.0, 9500.0, 44, 11.0, 0.75, 0.12, 7,
    ),
    "classical guitar": Body(
        ((97.0, 10.0, 0.8), (186.0, 11.0, 1.0), (225.0, 16.0, -0.5), (268.0, 18.0, 0.7),
         (370.0, 20.0, -0.85), (480.0, 20.0, 0.8)),
        560.0, 8000.0, 40, 11.0, 0.75, -0.1, 11,
    ),
    "mandolin": Body(
        ((205.0, 10.0, 0.75), (390.0, 11.0, 1.0), (480.0, 14.0, -0.7), (640.0, 16.0, 0.85),
         (820.0, 16.0, -0.8)),
        980.0, 10500.0, 40, 11.0, 0.85, 0.1, 13,
    ),
    "banjo head": Body(
        ((240.0, 5.0, 0.7), (410.0, 6.0, 1.0), (640.0, 7.0, -0.9), (860.0, 8.0, 1.0)),
        1050.0, 10000.0, 34, 7.0, 1.0, 0.15, 17,
    ),
    "bass": Body(
        ((62.0, 5.0, 1.0), (104.0, 6.0, 1.0), (172.0, 8.0, -0.75), (245.0, 10.0, 0.7)),
        330.0, 4500.0, 26, 8.0, 0.55, -0.25, 19,
    ),
}  # fmt: skip
