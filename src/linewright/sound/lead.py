"""From a lick to the strokes that play it, and from strict strokes to a hand's."""

from __future__ import annotations

import math
import random
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from typing import Final

from linewright.errors import MusicError, OptionError
from linewright.fretboard import finger
from linewright.fretboard import instrument as named
from linewright.score import Grace, Instrument, Lick, Note, bent, swung
from linewright.score.performance import VOICES, Part, Stroke

__all__ = ["humanised", "lead_part", "left_ringing", "voice_of"]

#: The voice of an instrument, by a word in its name.
_VOICES: Final = (
    ("bass", "bass"), ("banjo", "banjo"), ("mando", "mandolin"), ("ukulele", "nylon"),
    ("classical", "nylon"), ("nylon", "nylon"),
)  # fmt: skip
#: The mark that says how a note begins, and the attack it is.
_ATTACKS: Final = ("dead", "hammer-on", "pull-off", "slide", "release")
#: Strength by metrical weight: the bar line, its half, its quarters, what lies between them.
_BY_WEIGHT: Final = (0.76, 0.72, 0.69, 0.64)
_ACCENT: Final = 0.18
_GHOST: Final = 0.34
#: Strength of a note that the fretting hand sounds.
_JOINED: Final = 0.6
#: Seconds that one ornamental note lasts, and the share of its note that all may take.
_GRACE_S: Final = 0.07
_GRACE_SHARE: Final = Fraction(1, 2)
#: Semitones that a slide without a place to come from or go to passes through.
_SLIDE_IN, _SLIDE_OUT = 2, 4
_DEFAULT_BPM: Final = Fraction(100)
#: A note that stops no sooner before the end, in quarter notes, is held to the end.
_AT_THE_END: Final = Fraction(1, 8)


def voice_of(instrument: Instrument | None) -> str:
    """The voice that plays an instrument's part.

    >>> from linewright.fretboard import instrument
    >>> voice_of(instrument("octave mandolin")), voice_of(None)
    ('mandolin', 'steel')
    """
    name = instrument.name if instrument is not None else ""
    return next((voice for word, voice in _VOICES if word in name), "steel")


def lead_part(lick: Lick, *, name: str = "lead", voice: str | None = None) -> Part:
    """The strokes that play a lick, swung as it says, strict in time.

    Notes without a place on the neck are given one. On each string a note ends where the next
    begins. Ornaments take their time from the note they precede.

    Parameters
    ----------
    lick : Lick
    name : str
        Name of the part.
    voice : str, optional
        One of :data:`~linewright.score.performance.VOICES`; that of the instrument when None.

    Raises
    ------
    MusicError
        A note lies outside the instrument's range.
    OptionError
        There is no such voice.
    """
    if voice is not None and voice not in VOICES:
        raise OptionError(f"no voice {voice!r}", accepted=f"Use one of {', '.join(VOICES)}")
    neck = lick.instrument or named("guitar")
    if any(n.string is None or any(g.string is None for g in n.grace) for n in lick.notes):
        lick = finger(lick, neck)
    moved = swung((t for n in lick.notes for t in (n.onset, n.end)), lick.bars, lick.swing)
    strokes: list[Stroke] = []
    for note in lick.notes:
        strokes += _strokes(lick, neck, note, moved)
    strokes.sort(key=lambda stroke: stroke.onset)
    return Part(name, voice or voice_of(neck), _one_per_string(strokes))


def _strokes(
    lick: Lick, neck: Instrument, note: Note, moved: dict[Fraction, Fraction]
) -> list[Stroke]:
    """The note with its ornaments before it."""
    onset = moved.get(note.onset, note.onset)
    end = max(moved.get(note.end, note.end), onset + note.duration / 8)
    graces: list[Stroke] = []
    if note.grace:
        bpm = lick.tempo.quarter_bpm if lick.tempo else _DEFAULT_BPM
        each = Fraction(round(_GRACE_S * float(bpm) / 60 * 960), 960)
        each = min(each, (end - onset) * _GRACE_SHARE / len(note.grace))
        for grace in note.grace:
            graces.append(_grace(grace, onset, each, graces[-1] if graces else None))
            onset += each
    attack = next((word for word in _ATTACKS if note.has(word)), "pluck")
    if graces and attack == "pluck" and not note.bend:
        attack = _slur(graces[-1], note.string, note.midi)
    duration = (end - onset) / 2 if note.has("staccato") else end - onset
    slid_in, slid_out = _side(note, "slide in"), _side(note, "slide out")
    return [
        *graces,
        Stroke(
            onset,
            duration,
            _fretted(neck, note),
            note.string,
            note.fret,
            _strength(lick, note, attack),
            attack,
            note.bend,
            lead_in=slid_in * _SLIDE_IN,
            lead_out=slid_out * _SLIDE_OUT,
            ring=note.has("let ring"),
            muted=note.has("palm mute"),
            vibrato=note.has("vibrato"),
            harmonic=note.has("harmonic"),
        ),
    ]


def _grace(grace: Grace, onset: Fraction, each: Fraction, before: Stroke | None) -> Stroke:
    midi = grace.pitch.midi
    attack = "pluck" if before is None else _slur(before, grace.string, midi)
    return Stroke(onset, each, midi, grace.string, grace.fret, 0.55, attack)


def _slur(before: Stroke, string: int | None, midi: int) -> str:
    """How the hand gets from an ornament to what follows: without a pluck on the same string."""
    if before.string != string or before.midi == midi:
        return "pluck"
    return "hammer-on" if midi > before.midi else "pull-off"


def _fretted(neck: Instrument, note: Note) -> int:
    """The pitch before the bend: the fret's where the place is known."""
    if not note.bend:
        return note.midi
    if note.string is not None and note.fret is not None:
        try:
            return neck.midi_at(note.string, note.fret)
        except MusicError:
            pass
    return note.midi - bent(0, note.bend)


def _side(note: Note, name: str) -> int:
    """-1 from or to below, +1 above, 0 without the mark (which means below when it says none)."""
    for mark in note.marks:
        if mark.name == name:
            return 1 if mark.semitones > 0 else -1
    return 0


def _strength(lick: Lick, note: Note, attack: str) -> float:
    if note.has("ghost"):
        return _GHOST
    bar = lick.bar_at(note.onset)
    weight = bar.meter.weight(bar.offset(note.onset))
    strength = _BY_WEIGHT[min(-weight, len(_BY_WEIGHT) - 1)]
    if attack not in ("pluck", "dead"):
        strength = min(strength, _JOINED)
    return min(1.0, strength + (_ACCENT if note.has("accent") else 0.0))


def _one_per_string(strokes: Iterable[Stroke]) -> tuple[Stroke, ...]:
    """The strokes, each cut where its string is next struck."""
    kept: list[Stroke] = []
    last: dict[int, int] = {}
    for stroke in strokes:
        if stroke.string is not None:
            before = last.get(stroke.string)
            if before is not None and kept[before].end > stroke.onset:
                cut = stroke.onset - kept[before].onset
                if cut <= 0:  # two at once on one string: the later of them is heard
                    kept[before] = stroke
                    continue
                kept[before] = replace(kept[before], duration=cut)
            last[stroke.string] = len(kept)
        kept.append(stroke)
    return tuple(kept)


def humanised(
    part: Part,
    seed: int,
    *,
    quarter_bpm: Fraction,
    timing_s: float = 0.006,
    strength: float = 0.05,
) -> Part:
    """A part with the small unevenness of a hand; the same for the same seed.

    Strokes written together stay together. Slurred notes, which the fretting hand places, move
    as much as plucked ones. None moves by more than two and a half times ``timing_s``, before
    the beginning, or past its neighbours.

    Parameters
    ----------
    part : Part
    seed : int
    quarter_bpm : Fraction
        Tempo, since a hand errs in seconds.
    timing_s : float
        Standard deviation of onsets in seconds.
    strength : float
        Standard deviation of strength.
    """
    if not (math.isfinite(timing_s) and 0 <= timing_s <= 0.05):
        raise OptionError(f"a timing of {timing_s} s", accepted="Use 0 to 0.05 seconds")
    if not (math.isfinite(strength) and 0 <= strength <= 0.5):
        raise OptionError(f"a strength spread of {strength}", accepted="Use 0 to 0.5")
    hand = random.Random(seed)
    quarters = timing_s * float(quarter_bpm) / 60
    onsets = sorted({stroke.onset for stroke in part.strokes})
    moved: dict[Fraction, Fraction] = {}
    for index, onset in enumerate(onsets):
        shift = Fraction(round(_within(hand, quarters) * 10080), 10080)
        low = Fraction(0) if index == 0 else -(onset - onsets[index - 1]) / 3
        high = (onsets[index + 1] - onset) / 3 if index + 1 < len(onsets) else abs(shift)
        moved[onset] = max(onset + max(min(shift, high), low), Fraction(0))
    strokes = []
    for stroke in part.strokes:
        onset = moved[stroke.onset]
        end = moved.get(stroke.end, stroke.end)
        force = min(1.0, max(0.05, stroke.strength + _within(hand, strength)))
        strokes.append(
            replace(
                stroke,
                onset=onset,
                duration=max(end - onset, stroke.duration / 4),
                strength=force,
            )
        )
    return replace(part, strokes=_one_per_string(strokes))


def left_ringing(part: Part, end: Fraction) -> Part:
    """A part whose last notes, held to the ``end`` (in quarter notes), ring on past it.

    What stops before the end, is dead or is slid away stays as it is, and so does a click.
    """
    return replace(
        part,
        strokes=tuple(
            replace(stroke, ring=True)
            if stroke.end >= end - _AT_THE_END
            and "click" not in stroke.attack
            and not (stroke.lead_out or stroke.attack == "dead")
            else stroke
            for stroke in part.strokes
        ),
    )


def _within(hand: random.Random, spread: float) -> float:
    return max(-2.5 * spread, min(2.5 * spread, hand.gauss(0.0, spread)))
