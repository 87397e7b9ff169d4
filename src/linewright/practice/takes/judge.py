"""The verdict: kind, specific, and about one thing at a time."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from linewright.practice.takes.model import RuleResult, Take, Terms, Verdict
from linewright.practice.takes.notes import read_notes
from linewright.practice.takes.rules import hold_rules
from linewright.practice.takes.say import count_of
from linewright.practice.takes.written import write_down
from linewright.score import PlayedNote

__all__ = ["judge"]

#: Share of notes in doubt above which a take cannot be judged.
_MOST_DOUBT: Final = 0.3
#: What is worked on first when several rules break: time before notes before the rest, since
#: nothing holds on a pulse that does not (common practice).
_ORDER: Final = (
    "flow", "spread", "drift", "notes", "use", "leap", "mean", "chords", "figure", "often",
    "variety", "quote", "tempo",
)  # fmt: skip


def judge(
    heard: Sequence[PlayedNote],
    terms: Terms,
    *,
    bpm: Fraction | int | None = None,
    start_s: float | None = None,
    ladder: Sequence[int] = (),
) -> Verdict:
    """Hold a take against the rules of a step.

    Parameters
    ----------
    heard : sequence of PlayedNote
        What was played, from audio or MIDI.
    terms : Terms
        The step's rules, what it is played over, and the lick's analysis.
    bpm : Fraction or int, optional
        Tempo of the click, in the step's beat; the step's own when None.
    start_s : float, optional
        Where beat 1 of bar 1 falls in the recording, the recording's delay included.
    ladder : sequence of int
        The step's tempos, to suggest a slower one.

    Raises
    ------
    TakeError
        When nothing in the recording can be judged.
    """
    take = write_down(heard, terms, terms.done.bpm if bpm is None else bpm, start_s)
    readings = read_notes(take, terms)
    rules = hold_rules(take, terms, readings)
    doubtful = tuple(k for k, note in enumerate(take.notes) if not note.is_sure)
    passed = _passed(take, rules, len(doubtful))
    broken = sorted(
        (rule for rule in rules if rule.passed is False), key=lambda r: _ORDER.index(_kind(r))
    )
    first = broken[0] if broken and passed is not None else None
    return Verdict(
        passed,
        take,
        rules,
        _words(take, terms, passed, broken, len(doubtful)),
        _work_on(first) if first else "",
        _suggestion(take, terms, broken, ladder) if passed is False else "",
        doubtful,
    )


def _passed(take: Take, rules: Sequence[RuleResult], doubtful: int) -> bool | None:
    if doubtful > _MOST_DOUBT * len(take.notes):
        return None
    if any(rule.passed is False for rule in rules):
        return False
    if any(rule.passed is None and rule.key != "mean" for rule in rules):
        return None
    return True


def _kind(rule: RuleResult) -> str:
    return rule.key.split(" ")[0]


def _words(
    take: Take, terms: Terms, passed: bool | None, broken: Sequence[RuleResult], doubtful: int
) -> str:
    said: list[str] = []
    tempo = f"{float(take.bpm):g}"
    if passed is None:
        said.append(
            f"{count_of(doubtful, 'note')} of {len(take.notes)} could not be heard clearly,"
            " so this take is not judged. Record again nearer the instrument, with the band in"
            " headphones."
            if doubtful
            else "Too little was heard to judge this take; play a longer one."
        )
        return " ".join(said)
    if passed:
        said.append(f"Done at {tempo}: {terms.done.bars} bars, everything the step asks for.")
        if take.timing.count:
            said.append(f"The notes spread by {take.timing.spread_ms:.0f} ms about the beat.")
    elif [rule.key for rule in broken] == ["tempo"]:
        said.append(f"Clean at {tempo}. The step is done at {terms.done.bpm}.")
    else:
        good = _good(terms, broken)
        said.append(f"Not yet. {good}" if good else "Not yet.")
        said.append(broken[0].words)
        others = [rule for rule in broken[1:] if rule.key != "tempo"]
        if others:
            said.append("Later: " + " ".join(rule.words for rule in others[:2]))
    if doubtful:
        said.append(
            f"{count_of(doubtful, 'note')} could not be heard clearly and"
            f" {'does' if doubtful == 1 else 'do'} not count."
        )
    return " ".join(said)


def _good(terms: Terms, broken: Sequence[RuleResult]) -> str:
    """Something that went well, if anything did, said first."""
    failed = {_kind(rule) for rule in broken}
    if not failed & {"flow", "spread", "drift"}:
        return "The time is steady."
    if not failed & {"notes", "use"}:
        return "The notes are right."
    if "flow" not in failed:
        return f"You kept going for {terms.done.bars} bars."
    return ""


_WORK: Final = {
    "tempo": "Take it up one step of the ladder and play it again.",
    "flow": "Keep going, whatever happens: a plain note in time is better than a stop.",
    "spread": "Play quieter and listen to the click between your notes.",
    "drift": "Tap your foot with the click and let the hand follow the foot.",
    "mean": "Place each note with the click, not after hearing it.",
    "notes": "Play the frame slowly up and down, name each note, then try again.",
    "use": "Play that outside note only between the notes the lick puts around it.",
    "leap": "Go to the neighbouring note of the frame; save the leaps for later.",
    "figure": "Decide before you begin in which bars the figure comes.",
    "often": "Decide before you begin in which bars it comes.",
    "chords": "Play only the note that meets each new chord, then fill the way to it.",
    "variety": "Begin each bar on another degree than the bar before.",
    "quote": "Use the idea of the lick, from another degree or with another ending.",
}


def _work_on(rule: RuleResult) -> str:
    where = ""
    if rule.key == "flow" and not rule.notes and rule.limit:
        return f"Play on: {rule.limit:g} bars are asked."
    if rule.bars:
        where = f"Bar {rule.bars[0]}: "
    return f"{where}{_WORK[_kind(rule)]}"


def _suggestion(
    take: Take, terms: Terms, broken: Sequence[RuleResult], ladder: Sequence[int]
) -> str:
    """A slower tempo where time or hand gave way, the bare drill where the idea did not come."""
    # A take that is only too short says nothing of the tempo.
    kinds = {_kind(rule) for rule in broken if rule.key != "flow" or rule.notes}
    if kinds == {"tempo"}:
        higher = [tempo for tempo in sorted(ladder) if tempo > take.bpm]
        return f"Next: {higher[0]}." if higher else f"Next: {terms.done.bpm}."
    slower = [tempo for tempo in ladder if tempo < take.bpm]
    if kinds & {"flow", "spread", "drift", "notes", "leap"} and slower:
        return f"Try it at {max(slower)} first."
    if kinds & {"figure", "often", "use", "chords"}:
        return "Go back to this step's drills, then to its lines, and record again."
    return ""
