"""The instruments that can sound: one table of what their strings, pick and body are like.

Frequency-dependent loss of a string has the three causes of Woodhouse (2004, "On the synthesis
of guitar plucks", Acta Acustica 90, 928-944): air (constant), inner friction (grows with
frequency) and bending (grows with its cube). The numbers are ours, chosen for decays that
players would expect of each instrument; they are not measurements of any one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from linewright.sound.body import BODIES, Body

__all__ = ["STRUNG", "StrungVoice"]


@dataclass(frozen=True)
class StrungVoice:
    """A plucked instrument.

    Parameters
    ----------
    name : str
    body : Body
    pick_at : float
        Where the pick meets an open string, as a share of its length from the bridge.
    bright : float
        Hz above which the pluck at strength 0.7 excites less and less.
    air, friction, bending : float
        Loss of a string in 1/s at 110 Hz fundamental, per kHz, and per kHz cubed.
    stiffness : float
        Inharmonicity B of an open plain string: partial n at n f sqrt(1 + B n^2).
    top : float
        Hz of the highest partial sounded.
    slow_share, slow_loss : float
        Share of the pluck in the plane along the top, and its loss relative to the plane
        across it: a plucked note falls fast first, then slowly.
    courses : int
        Strings under one finger.
    detune : float
        Cents each string of a pair stands from the middle.
    release : float
        Seconds in which a finger stops the string.
    noise : float
        Level of the pick's own noise.
    level : float
        Evens the instruments out.
    """

    name: str
    body: Body
    pick_at: float
    bright: float
    air: float
    friction: float
    bending: float
    stiffness: float
    top: float
    slow_share: float = 0.2
    slow_loss: float = 0.4
    courses: int = 1
    detune: float = 0.0
    release: float = 0.045
    noise: float = 0.02
    level: float = 1.0


#: Plucked voices by name.
STRUNG: Final[dict[str, StrungVoice]] = {
    voice.name: voice
    for voice in (
        StrungVoice(
            "steel", BODIES["flat-top guitar"], pick_at=0.19, bright=2600.0,
            air=0.95, friction=1.0, bending=0.012, stiffness=4e-5, top=9500.0, level=1.25,
        ),
        StrungVoice(
            "nylon", BODIES["classical guitar"], pick_at=0.24, bright=1300.0,
            air=1.7, friction=2.6, bending=0.12, stiffness=3e-5, top=7000.0, noise=0.012, level=1.45,
        ),
        StrungVoice(
            "mandolin", BODIES["mandolin"], pick_at=0.2, bright=3400.0,
            air=1.6, friction=1.3, bending=0.010, stiffness=5e-5, top=10500.0,
            courses=2, detune=0.7, release=0.04, noise=0.025,
        ),
        StrungVoice(
            "banjo", BODIES["banjo head"], pick_at=0.14, bright=3600.0,
            air=3.6, friction=2.0, bending=0.015, stiffness=3e-5, top=10000.0,
            slow_share=0.1, release=0.035, noise=0.03, level=1.3,
        ),
        StrungVoice(
            "bass", BODIES["bass"], pick_at=0.22, bright=650.0,
            air=1.9, friction=4.0, bending=0.4, stiffness=6e-5, top=3500.0,
            release=0.06, noise=0.008, level=1.4,
        ),
    )
}  # fmt: skip
