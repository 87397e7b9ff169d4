"""Progress: which steps of a plan are done, and so which may be begun."""

from __future__ import annotations

from dataclasses import dataclass

from linewright.errors import OptionError
from linewright.practice.model import Plan

__all__ = ["Mark", "Progress"]


@dataclass(frozen=True, slots=True)
class Mark:
    """What was said of one step: done or not, and the teacher who let the player go on anyway."""

    done: bool = False
    override_by: str | None = None

    @property
    def opens(self) -> bool:
        """Whether the next step may be begun."""
        return self.done or self.override_by is not None


@dataclass(frozen=True)
class Progress:
    """How far a player is: one mark for each step, in order. A step not done holds the next back.

    >>> at = Progress.start(3).mark(1, True)
    >>> at.can_start(2), at.can_start(3), at.mark(2, False, override_by="the teacher").can_start(3)
    (True, False, True)
    """

    marks: tuple[Mark, ...]

    @classmethod
    def start(cls, plan: Plan | int) -> Progress:
        """Nothing done yet, of a plan or of so many steps."""
        count = plan if isinstance(plan, int) else len(plan.steps)
        if not 1 <= count <= 1000:
            raise OptionError(f"a plan of {count} steps", accepted="Use 1 to 1000")
        return cls((Mark(),) * count)

    def can_start(self, step: int) -> bool:
        """Whether every step before this one is done or was let pass by a teacher."""
        self._known(step)
        return all(mark.opens for mark in self.marks[: step - 1])

    def is_done(self, step: int) -> bool:
        """Whether a step counts as done (let pass is not done)."""
        self._known(step)
        return self.marks[step - 1].done

    @property
    def current(self) -> int | None:
        """The first step that still holds the next one back; None when there is none."""
        return next((k for k, mark in enumerate(self.marks, 1) if not mark.opens), None)

    def mark(self, step: int, done: bool, override_by: str | None = None) -> Progress:
        """Progress with one step marked done or not.

        Parameters
        ----------
        step : int
            From 1.
        done : bool
        override_by : str, optional
            The teacher who lets the player on: past this step although it is not done, or to it
            although an earlier one is not.

        Raises
        ------
        OptionError
            For a step there is not, a name without letters, or a step marked done that is still
            held back.
        """
        self._known(step)
        if override_by is not None and not override_by.strip():
            raise OptionError("an override without a name", accepted="Say which teacher decides")
        if done and override_by is None and not self.can_start(step):
            raise OptionError(
                f"step {step} is held back by step {self.current}",
                accepted=f"Finish step {self.current} first, or let a teacher override",
            )
        new = Mark(done, override_by)
        return Progress((*self.marks[: step - 1], new, *self.marks[step:]))

    def _known(self, step: int) -> None:
        if not 1 <= step <= len(self.marks):
            raise OptionError(f"there is no step {step}", accepted=f"Use 1 to {len(self.marks)}")
