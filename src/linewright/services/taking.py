"""Use case: judge a recording (or a MIDI file) of a player trying a step of a plan."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from linewright.errors import OptionError, ReadError, TakeError, TooLarge
from linewright.practice import PlanSheet, StepSheet
from linewright.practice.takes import Terms, Verdict, judge, terms_of, verdict_to_dict
from linewright.services.bring import made_of
from linewright.services.hearing import hear_file
from linewright.store.take_files import MAX_TAKE_BYTES
from linewright.store.take_records import Setting

if TYPE_CHECKING:
    from linewright.score import Instrument
    from linewright.sound.hearing import Heard

__all__ = [
    "CALIBRATION_CLICKS",
    "Judged",
    "Setting",
    "click_times",
    "find_delay",
    "judge_audio",
    "read_recording",
    "step_of",
]

#: When to play clicks for a calibration, in seconds: unevenly, so that none is taken for the next.
CALIBRATION_CLICKS = (1.0, 1.6, 2.35, 2.9, 3.8, 4.45, 5.4, 6.0)
Progress = Callable[[int, int], None]
#: Bars of the click before bar 1 that are looked for in a recording.
_COUNT_IN = 2
_LEAST_CLICKS = 4
_QUICKEST_CLICK = 400
#: How long before beat 1 a note may come and not be taken for one in the count-in.
_EARLY_S = 0.15
_NO_CLICK = "our click could not be found in the recording"


@dataclass(frozen=True)
class Judged:
    """A verdict, and what was heard for it."""

    verdict: Verdict
    heard: Heard

    @property
    def warnings(self) -> tuple[str, ...]:
        """What was noticed about the recording, in plain sentences."""
        return self.heard.warnings

    def to_dict(self) -> dict[str, Any]:
        """The verdict as docs/takes.md says, with ``warnings``."""
        return {**verdict_to_dict(self.verdict), "warnings": list(self.warnings)}


def step_of(sheet: PlanSheet, number: int) -> StepSheet:
    """A step of a plan; OptionError when there is none of that number."""
    if not 1 <= number <= len(sheet.steps):
        raise OptionError(f"there is no step {number}", accepted=f"Use 1 to {len(sheet.steps)}")
    return sheet.steps[number - 1]


def judge_audio(
    audio: bytes | Path,
    sheet: PlanSheet,
    step: int,
    setting: Setting | None = None,
    *,
    instrument: Instrument | None = None,
    progress: Progress | None = None,
) -> Judged:
    """Hear a take and hold it against the rules of a step.

    Parameters
    ----------
    audio : bytes or Path
        A recording in any usual format, or a MIDI file, whose notes are taken as they are.
    sheet : PlanSheet
    step : int
        From 1.
    setting : Setting, optional
        Tempo of the click and where its first beat lies; at the step's tempo and unknown when
        not given. Where our click can be heard in the recording (``click``), it is taken out, and
        its first beat is placed where it was found.
    instrument : Instrument, optional
        What was played, where it is not the plan's own.
    progress : callable, optional
        Told how much is done, of how much.

    Raises
    ------
    OptionError, ReadError, TooLarge
        There is no such step; the recording cannot be read.
    TakeError
        Nothing in it can be judged.
    """
    wanted = step_of(sheet, step)
    how = setting or Setting(float(wanted.done.bpm))
    report = progress or (lambda _done, _total: None)
    terms = terms_of(wanted, made_of(sheet.lick, sheet.tonic))
    data = read_recording(audio) if isinstance(audio, Path) else audio
    report(0, 3)
    heard, start = _heard(data, instrument or sheet.lick.instrument, terms, how, report)
    report(2, 3)
    if not heard.notes:
        raise TakeError(
            "no notes were heard" + (f": {heard.warnings[0]}" if heard.warnings else ""),
            accepted="Play one note at a time, close to the microphone, and record again",
        )
    verdict = judge(
        heard.notes,
        terms,
        bpm=Fraction(how.bpm).limit_denominator(1000),
        start_s=start,
        ladder=wanted.tempo_ladder,
    )
    report(3, 3)
    return Judged(verdict, heard)


def _heard(
    data: bytes, instrument: Instrument | None, terms: Terms, how: Setting, report: Progress
) -> tuple[Heard, float | None]:
    """What was heard, and where beat 1 of bar 1 lies."""
    quarters = how.bpm * float(terms.ground.beat)
    if data[:4] == b"MThd":
        return hear_file(data), None if how.delay_s is None else how.placed_s
    from linewright.sound.calibrate import clicks_alone, find_clicks
    from linewright.sound.decode import decode  # numpy: only sound pays for it
    from linewright.sound.hearing import hear

    recording = decode(data)
    report(1, 3)
    samples, rate = recording.samples, recording.rate
    said = list(recording.warnings)
    band = None
    if how.click and how.placed_s is not None:
        times = click_times(terms, how, recording.seconds)
        can_be = len(times) >= _LEAST_CLICKS and how.bpm <= _QUICKEST_CLICK
        clicks = find_clicks(samples, rate, times) if can_be else None
        if clicks is None:
            said.append(_NO_CLICK)
        else:
            how = replace(how, delay_s=(how.delay_s or 0.0) + clicks.delay_s)
            band = clicks_alone(clicks, len(samples), rate)
    heard = hear(
        samples,
        rate,
        tempo=quarters if 10 <= quarters <= 1000 else None,
        band=band,
        instrument=instrument,
    )
    heard = replace(heard, warnings=(*said, *heard.warnings))
    if how.delay_s is not None or how.placed_s is None:
        return heard, how.placed_s
    # The recording's own delay is not known: the count-in is left out, no more is said of where.
    first = how.placed_s - _EARLY_S
    return replace(heard, notes=tuple(n for n in heard.notes if n.onset_s >= first)), None


def click_times(terms: Terms, setting: Setting, seconds: float) -> list[float]:
    """Where the click's beats lie in a recording, two bars of count-in included."""
    ground = terms.ground
    start = setting.placed_s or 0.0
    bar_s = float(ground.meter.length / ground.beat) * 60 / setting.bpm
    onsets = [float(at / ground.beat) * 60 / setting.bpm for at in ground.meter.beat_onsets]
    bars = int(max(0.0, seconds - start) / bar_s) + 1
    times = [start + bar * bar_s + onset for bar in range(-_COUNT_IN, bars) for onset in onsets]
    return [time for time in times if 0 <= time < seconds]


def find_delay(audio: bytes, times: list[float]) -> float:
    """How many seconds late our clicks, played at ``times``, are in a recording of them.

    Raises
    ------
    TakeError
        When they are not clearly found.
    OptionError, ReadError, TooLarge
    """
    from linewright.sound.calibrate import calibrate
    from linewright.sound.decode import decode

    recording = decode(audio, rate=48_000, max_seconds=60)
    return calibrate(recording.samples, recording.rate, times)


def read_recording(path: Path) -> bytes:
    """A recording's bytes, if they are not too many."""
    try:
        with path.open("rb") as file:
            data = file.read(MAX_TAKE_BYTES + 1)
    except OSError as error:
        raise ReadError(
            f"the recording cannot be read: {error.strerror or error}", accepted="Name a recording"
        ) from error
    if len(data) > MAX_TAKE_BYTES:
        raise TooLarge(
            f"the recording has more than {MAX_TAKE_BYTES // 2**20} MB",
            accepted="Save it as flac or mp3, or cut it to ten minutes",
        )
    return data
