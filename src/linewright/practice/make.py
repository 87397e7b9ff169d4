"""Making a plan."""

from __future__ import annotations

from linewright.analysis import Analysis
from linewright.errors import OptionError
from linewright.practice.levels import find_length, find_level
from linewright.practice.material import Material
from linewright.practice.model import Plan
from linewright.practice.schedule import CAUTIONS, make_schedule
from linewright.practice.steps import all_steps

__all__ = ["make_plan"]


def make_plan(
    analysis: Analysis, *, level: str = "working", length: str = "week", seed: int = 0
) -> Plan:
    """A graded practice plan from one lick.

    Parameters
    ----------
    analysis : Analysis
        Of a lick with a frame, or of so few notes as one has; on the instrument of the lick (a guitar when it has none).
    level : str
        ``beginner``, ``working`` or ``fluent``.
    length : str
        ``week`` or ``month``.
    seed : int
        The same lick, level, length and seed give the same plan on every machine.

    Raises
    ------
    OptionError, MusicError
        For a level or length there is not, or a lick from which no line can be made.
    """
    if not isinstance(seed, int) or not -(2**63) <= seed < 2**63:
        raise OptionError(f"a seed of {seed!r}", accepted="Use a whole number")
    chosen, days = find_level(level), find_length(length)
    material = Material.of(analysis, chosen, seed)
    steps = all_steps(material)
    return Plan(
        f"Practice plan: {analysis.lick.title}",
        level,
        length,
        seed,
        material.beat,
        steps,
        make_schedule(steps, chosen, days),
        CAUTIONS,
    )
