"""Takes made for tests: a line made for a step of a demo lick, played by our own voice or as MIDI."""

import io
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import mido
import numpy as np
from benchmarks.takes_fair import labels_meet

from linewright.lines import line_model
from linewright.practice import make_plan, sheet_of
from linewright.services.demo_library import demo_licks
from linewright.services.recording import recorded
from linewright.sound.band import ClickPlan, performance_of
from linewright.sound.render import render
from linewright.sound.write_audio import write_audio

STEP = 3  # the frame alone in a steady stream
RATE = 44100


@lru_cache
def brought():
    return next(iter(demo_licks()))[1]


@lru_cache
def plan():
    return make_plan(brought().analysis)


@lru_cache
def sheet():
    return sheet_of(plan(), brought().lick)


@lru_cache
def line():
    """A line whose labels, not the judge, say that it meets the rules of the step."""
    step = plan().steps[STEP - 1]
    assert step.key == "stream"
    model = line_model(brought().analysis)
    for seed in range(40):
        made = model.sample(
            step.examples[0].request.with_(bars=step.done.bars, seed=seed, pins={}, strict=False)
        )
        if labels_meet(made, step):
            return made.lick
    raise AssertionError("no line meets the step")


def bpm():
    """The tempo of the step, in quarters a minute."""
    return sheet().steps[STEP - 1].done.bpm


@lru_cache
def midi(tempo=None, wrong=0):
    """The line as MIDI, so many notes in its middle a semitone off."""
    data = recorded(line(), "mid", tempo=Fraction(tempo or bpm()))
    if not wrong:
        return data
    file = mido.MidiFile(file=io.BytesIO(data))
    for track in file.tracks:
        count = {"note_on": 0, "note_off": 0}
        for message in track:
            if message.type in count:
                count[message.type] += 1
                if 10 < count[message.type] <= 10 + wrong:
                    message.note += 1
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


@lru_cache
def performance(wrong=0, stop=False):
    """The line with a bar of count-in and a click; ``stop`` leaves out a bar and a half."""
    made = performance_of(line(), click=ClickPlan("beats"), count_in=1, tempo=Fraction(bpm()))
    parts = []
    for part in made.parts:
        strokes = list(part.strokes)
        if part.voice != "click":
            for k in range(10, 10 + wrong):
                strokes[k] = replace(strokes[k], midi=strokes[k].midi + 1, fret=strokes[k].fret + 1)
            if stop:
                strokes = [s for s in strokes if not 16 <= s.onset < 22]
        parts.append(replace(part, strokes=tuple(strokes)))
    return replace(made, parts=tuple(parts))


def beat_one(seconds=0.0):
    made = performance()
    return made.seconds(made.count_in) + seconds


@lru_cache
def sound(wrong=0, stop=False, click=0.0, late_s=0.0, form="flac"):
    """The line played: a sound file. ``late_s`` of silence come before it all."""
    samples = render(performance(wrong, stop), levels={"click": click})
    quiet = np.zeros((round(late_s * RATE), 2), np.float32)
    return write_audio(np.concatenate([quiet, samples]), RATE, form)
