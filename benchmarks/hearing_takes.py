"""Seeded single-note takes, rendered by a sampler that is not ours, with the truth beside them.

The sampler is FluidSynth with the Fluid (R3) General MIDI soundfont, as Debian packages them
(``fluidsynth``, ``fluid-soundfont-gm``). A take mixes what a player mixes: eighths, triplets,
sixteenths and quarters at 80 to 240 bpm, rests, the same note again, hammer-ons and pull-offs
(the pitch wheel steps without a new stroke, or a soft stroke overlaps the note before), slides
(the wheel glides; the note counts from where the glide starts), loud and soft notes, and onsets
some milliseconds off the grid. Strings are kept apart on MIDI channels, so that in the
``ringing`` render a note sounds on until its own string is struck again.
"""

from __future__ import annotations

import hashlib
import io
import random
import shutil
import subprocess
import tempfile
import wave
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, cached_property
from pathlib import Path

import mido
import numpy as np
from numpy.typing import NDArray

from linewright.score.performance import Part, Performance, Stroke
from linewright.sound.render import render

FONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
RATE = 44_100
LEAD = 0.6  # seconds before the first beat

#: Name: (bank, program, open strings as MIDI numbers, frets used).
PROGRAMS: dict[str, tuple[int, int, tuple[int, ...], int]] = {
    "nylon": (0, 24, (40, 45, 50, 55, 59, 64), 14),
    "steel": (0, 25, (40, 45, 50, 55, 59, 64), 14),
    "jazz": (0, 26, (40, 45, 50, 55, 59, 64), 15),
    "electric": (0, 27, (40, 45, 50, 55, 59, 64), 17),
    "mandolin": (16, 25, (55, 62, 69, 76), 12),
    "banjo": (0, 105, (50, 55, 59, 62), 12),
}
#: The project's own voices, as further programs; slides between notes are hammered or pulled there.
OWN = {f"our {name}": PROGRAMS[name] for name in ("steel", "nylon", "mandolin", "banjo")}
_NECKS = {**PROGRAMS, **OWN}
#: Programs whose sounds go on for seconds after the key is let go, and by how many timecents that
#: is made shorter, so that a finger damps a string as it does on the others.
_DAMPED = {"steel": -5000, "banjo": -5000}


@dataclass(frozen=True)
class Truth:
    """One note as it was written."""

    onset: float
    end: float
    midi: int
    velocity: int
    way: (
        str  # struck, soft (overlapping soft stroke), slurred (wheel), slid (into), slide (between)
    )
    string: int
    source: int  # the pitch the wheel comes from, or midi


@dataclass(frozen=True)
class Take:
    """A take's notes, and how it is rendered."""

    program: str
    seed: int
    bpm: int
    notes: tuple[Truth, ...]
    beats: int

    @cached_property
    def clicks(self) -> NDArray[np.float64]:
        """Where the beats fall, in seconds."""
        return LEAD + np.arange(self.beats) * 60 / self.bpm

    def render(self, *, ringing: bool = False) -> NDArray[np.float32]:
        """Mono samples at :data:`RATE`."""
        return _voiced(self, ringing) if self.program in OWN else _fluid(_midi(self, ringing))


def make_take(program: str, seed: int, count: int = 64) -> Take:
    """Write a take of ``count`` notes."""
    rng = random.Random(f"{program} {seed}")
    bpm = rng.randrange(80, 241, 4)
    beat = 60 / bpm
    _, _, strings, frets = _NECKS[program]
    low = max(0, rng.randint(0, frets - 6))
    reach = 5
    drift = rng.uniform(0.003, 0.009)  # spread of the player's timing, seconds
    string, fret = rng.randrange(len(strings)), low + 2
    at = 0.0  # in beats
    notes: list[Truth] = []
    grid = _rhythm(rng, bpm)
    while len(notes) < count:
        step = grid()
        if notes and rng.random() < 0.07:
            at += step
            continue
        onset = LEAD + at * beat + max(-0.02, min(0.02, rng.gauss(0, drift)))
        seconds = step * beat
        way, source = "struck", -1
        previous = notes[-1] if notes else None
        joined = previous is not None and onset - previous.end < 0.03
        roll = rng.random()
        if previous and roll < 0.15:
            string, fret = previous.string, previous.midi - strings[previous.string]
        elif previous and joined and roll < 0.30:
            new = fret + rng.choice((-2, -1, 1, 2))
            if 0 <= new <= frets + 2:
                way = rng.choice(("slurred", "slurred", "soft"))
                source, fret = previous.midi, new
        elif previous and joined and roll < 0.34 and seconds > 0.18:
            new = fret + rng.choice((-2, 2, 3))
            if 0 <= new <= frets + 2:
                way, source, fret = "slide", previous.midi, new
        elif roll < 0.38 and seconds > 0.18 and fret >= 2:
            string, fret = _wander(rng, string, fret, len(strings), low, reach)
            way, source = "slid", strings[string] + fret - rng.choice((1, 2))
        else:
            string, fret = _wander(rng, string, fret, len(strings), low, reach)
        midi = strings[string] + fret
        velocity = rng.randint(60, 118)
        if way == "soft":
            velocity = rng.randint(40, 60)
        length = seconds * rng.choice((1.0, 1.0, 0.95, 0.8, 0.6))
        if previous and previous.end > onset:
            notes[-1] = Truth(previous.onset, onset, previous.midi, previous.velocity, previous.way, previous.string, previous.source)  # fmt: skip
        notes.append(Truth(onset, onset + length, midi, velocity, way, string, source if source >= 0 else midi))  # fmt: skip
        at += step
    return Take(program, seed, bpm, tuple(notes), int(at) + 2)


def _rhythm(rng: random.Random, bpm: int):  # type: ignore[no-untyped-def]
    """A generator of steps in beats: a few of one kind, then of another."""
    kinds = [([0.5] * 4, 4), ([1.0] * 2, 2), ([0.5, 1.0, 0.5], 1)]
    if bpm <= 200:
        kinds.append(([1 / 3] * 3, 2))
        kinds.append(([2 / 3, 1 / 3] * 2, 2))
    if bpm <= 160:
        kinds.append(([0.25] * 4, 3))
        kinds.append(([0.75, 0.25], 1))
    left: list[float] = []

    def step() -> float:
        if not left:
            left.extend(rng.choices([k for k, _ in kinds], [w for _, w in kinds])[0])
        return left.pop(0)

    return step


def _wander(
    rng: random.Random, string: int, fret: int, strings: int, low: int, reach: int
) -> tuple[int, int]:
    for _ in range(20):
        new = string + rng.choice((-1, -1, 0, 0, 0, 1, 1, rng.randint(-2, 2)))
        at = low + rng.randint(0, reach - 1)
        if 0 <= new < strings and (new, at) != (string, fret):
            return new, at
    return string, fret


def _midi(take: Take, ringing: bool) -> bytes:
    """The take as a MIDI file, one channel a string, a tick being a tenth of a millisecond."""
    bank, program, strings, _ = PROGRAMS[take.program]
    events: list[tuple[float, int, mido.Message]] = []
    channels = [c for c in range(16) if c != 9]
    for string in range(len(strings)):
        c = channels[string]
        setup = [(101, 0), (100, 0), (6, 12), (38, 0), (0, bank), (91, 0), (93, 0)]
        events += [(0.0, k, mido.Message("control_change", channel=c, control=a, value=b)) for k, (a, b) in enumerate(setup)]  # fmt: skip
        events.append((0.0, 9, mido.Message("program_change", channel=c, program=program)))
        if shorter := _DAMPED.get(take.program, 0):  # NRPN 120, generator 38: release in timecents
            value = 8192 + shorter // 2
            for k, (a, b) in enumerate([(99, 120), (98, 38), (38, value & 127), (6, value >> 7)]):
                message = mido.Message("control_change", channel=c, control=a, value=b)
                events.append((0.0, 10 + k, message))
    sounding: dict[int, int] = {}  # string -> the key that sounds there
    last_end = 0.0
    for number, note in enumerate(take.notes):
        c = channels[note.string]
        after = take.notes[number + 1] if number + 1 < len(take.notes) else None
        if note.way in ("slurred", "slide") and note.string in sounding:
            key = sounding[note.string]
            if note.way == "slurred":
                events.append((note.onset, 5, _wheel(c, note.midi - key)))
            else:
                _glide(events, c, note.onset, note.source - key, note.midi - key, 0.09)
        else:
            if note.string in sounding:
                ended = note.onset + (0.012 if note.way == "soft" else 0.0)
                events.append((ended, 6, mido.Message("note_off", channel=c, note=sounding[note.string])))  # fmt: skip
            key = note.midi
            if note.way == "slid":
                _glide(events, c, note.onset, note.source - key, 0, 0.07)
            else:
                events.append((note.onset, 6, _wheel(c, 0)))
            events.append((note.onset, 7, mido.Message("note_on", channel=c, note=key, velocity=note.velocity)))  # fmt: skip
            sounding[note.string] = key
        carried = (
            after and after.way in ("slurred", "slide", "soft") and after.string == note.string
        )
        if not ringing and not carried:
            events.append((note.end, 4, mido.Message("note_off", channel=c, note=sounding.pop(note.string))))  # fmt: skip
        last_end = max(last_end, note.end)
    events.append(
        (last_end + 0.8, 9, mido.Message("control_change", channel=0, control=123, value=0))
    )
    events.sort(key=lambda e: (round(e[0] * 10_000), e[1]))
    file = mido.MidiFile(ticks_per_beat=10_000)
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=1_000_000)])
    now = 0
    for seconds, _, message in events:
        tick = round(seconds * 10_000)
        track.append(message.copy(time=tick - now))
        now = tick
    file.tracks.append(track)
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


def _voiced(take: Take, ringing: bool) -> NDArray[np.float32]:
    """The take by the project's own voice of that name."""
    count = len(_NECKS[take.program][2])
    strokes = []
    for number, note in enumerate(take.notes):
        after = take.notes[number + 1] if number + 1 < len(take.notes) else None
        joined = after and after.way in ("slurred", "slide", "soft") and after.string == note.string
        end = after.onset if after and joined else note.end
        attack = "pluck"
        if note.way in ("slurred", "slide", "soft"):
            attack = "hammer-on" if note.midi > note.source else "pull-off"
        onset, end = (Fraction(round(t * 10_000), 10_000) for t in (note.onset, end))
        strokes.append(
            Stroke(
                onset, end - onset, note.midi, count - note.string,
                note.midi - _NECKS[take.program][2][note.string], note.velocity / 127, attack,
                lead_in=note.source - note.midi if note.way == "slid" else 0, ring=ringing,
            )
        )  # fmt: skip
    part = Part("lead", take.program.removeprefix("our "), tuple(strokes))
    length = Fraction(round(10 * take.notes[-1].end) + 8, 10)
    key = f"{take.program} {take.seed} {len(take.notes)} {ringing} {strokes}"
    return _kept(
        hashlib.sha256(key.encode()).hexdigest(),
        lambda: render(Performance((part,), length, Fraction(60)), rate=RATE).mean(axis=1),
    )


def _kept(name: str, make: Callable[[], NDArray[np.float32]]) -> NDArray[np.float32]:
    """What was rendered before, from the temporary folder."""
    folder = Path(tempfile.gettempdir()) / "linewright-hearing-bench"
    folder.mkdir(exist_ok=True)
    kept = folder / (name[:24] + ".npy")
    if not kept.exists():
        np.save(kept, (np.clip(make(), -1, 1) * 32767).astype(np.int16))
    return np.asarray(np.load(kept), np.float32) / 32768


def _wheel(channel: int, semitones: float) -> mido.Message:
    return mido.Message("pitchwheel", channel=channel, pitch=max(-8192, min(8191, round(semitones * 8192 / 12))))  # fmt: skip


def _glide(events: list, c: int, at: float, start: float, end: float, seconds: float) -> None:  # type: ignore[type-arg]
    for k in range(13):
        events.append((at + seconds * k / 12, 5, _wheel(c, start + (end - start) * k / 12)))


def available() -> bool:
    """Whether the sampler and its sounds are on this machine."""
    return shutil.which("fluidsynth") is not None and FONT.exists()


def _fluid(midi: bytes) -> NDArray[np.float32]:
    """Render, remembering what was rendered before in the temporary folder."""
    return _kept(hashlib.sha256(midi).hexdigest(), lambda: _sampled(midi))


def _sampled(midi: bytes) -> NDArray[np.float32]:
    with tempfile.TemporaryDirectory() as scratch:
        source, sound = Path(scratch, "take.mid"), Path(scratch, "take.wav")
        source.write_bytes(midi)
        command = ["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.7", "-r", str(RATE), "-o", "synth.cpu-cores=1", "-F", str(sound), str(FONT), str(source)]  # fmt: skip
        subprocess.run(command, check=True, capture_output=True)
        with wave.open(str(sound)) as wav:
            stereo = np.frombuffer(wav.readframes(wav.getnframes()), "<i2").reshape(-1, 2)
    return (stereo.astype(np.int32).sum(axis=1) // 2).astype(np.float32) / 32767


@cache
def delays() -> dict[tuple[str, int], float]:
    """Seconds from a note's event to the first sound of its sample, by program and key.

    Measured on single notes a second apart, soft and loud: the first sample above a twentieth of
    the note's peak. It differs from key to key (some samples begin with up to 20 ms of silence),
    so one number a program would be an error of the truth, not of a listener.
    """
    found = {}
    for program, (_, _, strings, frets) in _NECKS.items():
        if program in PROGRAMS and not available():
            continue
        keys = range(min(strings), max(strings) + frets + 3)
        notes = []
        for k, (midi, velocity) in enumerate((m, v) for m in keys for v in (70, 105)):
            at = LEAD + 1.0137 * k
            string = max(i for i, opened in enumerate(strings) if opened <= midi)
            notes.append(Truth(at, at + 0.4, midi, velocity, "struck", string, midi))
        x = np.abs(Take(program, 0, 100, tuple(notes), 10).render())
        late = []
        for note in notes:
            start = round(note.onset * RATE)
            part = x[start : start + 2200]
            late.append(float(np.argmax(part > 0.05 * part.max())) / RATE)
        for midi, pair in zip(keys, np.reshape(late, (-1, 2)), strict=True):
            found[program, midi] = float(np.mean(pair))
    return found


def truth(take: Take, late: dict[tuple[str, int], float]) -> list[tuple[float, int, str]]:
    """Onset, pitch and way of each note, the sampler's own delay added where a sample starts."""
    return [
        (n.onset + (0.001 if n.way in ("slurred", "slide") else late[take.program, n.midi]), n.midi, n.way)
        for n in take.notes
    ]  # fmt: skip
