"""What counts as done, said plainly; the values it says are those of ``Done``."""

from __future__ import annotations

from fractions import Fraction

from linewright.analysis.prose import capital, interval, join_words, times
from linewright.practice.model import Allowed, Done, FigureRule, UseRule

__all__ = ["beat_name", "done_rules", "say_done"]

_BEATS = {
    Fraction(1, 2): "eighths", Fraction(1): "quarters", Fraction(3, 2): "dotted quarters",
    Fraction(2): "halves", Fraction(3, 4): "dotted eighths", Fraction(3): "dotted halves",
}  # fmt: skip


def beat_name(beat: Fraction) -> str:
    """What a tempo counts, in words."""
    return _BEATS.get(beat, f"beats of {beat} quarters")


def say_done(done: Done, beat: Fraction) -> str:
    """The statement of one set of rules."""
    return "; ".join(_parts(done, beat)) + "."


def done_rules(done: Done, beat: Fraction) -> tuple[str, ...]:
    """The same, a sentence for each rule, as a list to tick off."""
    return tuple(f"{capital(part)}." for part in _parts(done, beat))


def _parts(done: Done, beat: Fraction) -> list[str]:
    parts = [
        f"You play {done.bars} bars at {done.bpm} {beat_name(beat)} a minute without a stop,"
        f" {times(done.takes)} in a row",
        f"on average within {done.mean_ms:g} ms of the click, with a spread of"
        f" {done.spread_ms:g} ms at most",
        _only(done.only, done.uses),
        f"no leap larger than {interval(done.leap)}",
        *(_figure(rule) for rule in done.figures),
        *(_use(rule) for rule in done.uses if rule.times),
    ]
    if done.chord_tones is not None:
        parts.append(
            f"a tone of the new chord meets at least {round(100 * done.chord_tones)} percent"
            " of the chord changes"
        )
    parts.append(
        f"no one bar makes up more than {_share(done.alike)} of it, and no more than {done.quoted}"
        " notes running are the lick's own"
    )
    parts.append(f"up to {round(100 * done.slips)} in a hundred notes may slip")
    return [part for part in parts if part]


def _only(only: tuple[Allowed, ...], uses: tuple[UseRule, ...]) -> str:
    said = []
    for item in only:
        over = f" over {item.over}" if item.over else ""
        said.append(f"{' '.join(item.degrees)} of {item.tonic}{over}")
    extra = list(dict.fromkeys(use.degree for use in uses))
    tail = f", and the {join_words(extra)} only as the lick uses {_it(extra)}" if extra else ""
    return f"only these notes: {', '.join(said)}{tail}"


def _figure(rule: FigureRule) -> str:
    return f"the {rule.kind} ({rule.tag}) at least {times(rule.times)} in {rule.bars} bars"


def _use(rule: UseRule) -> str:
    return (
        f"{rule.before}-{rule.degree}-{rule.after} at least {times(rule.times)} in {rule.bars} bars"
    )


def _share(share: float) -> str:
    return {0.5: "half", 0.25: "a quarter"}.get(share, f"{round(100 * share)} percent")


def _it(names: list[str]) -> str:
    return "it" if len(names) == 1 else "them"
