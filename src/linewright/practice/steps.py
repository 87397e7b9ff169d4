"""The steps of a plan, one function each; None where a step does not apply to the lick."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from linewright.lines import Line, LineRequest, Progression
from linewright.lines.figure_plans import FigurePlan
from linewright.lines.frames import follows_chords
from linewright.lines.usage import OutsideUse
from linewright.practice.chord_drills import chord_drills, landing_share
from linewright.practice.figure_drills import Cells, cells_of, figure_drills, figure_pins
from linewright.practice.material import EXAMPLES, Material
from linewright.practice.model import Drill, Step
from linewright.practice.move_drills import form_for, move_drills, moved_chords, new_keys
from linewright.practice.outside_drills import outside_drills, where
from linewright.practice.rules import done_for, figure_rule, use_rules
from linewright.practice.steps_frame import SLOWER, frame_step, line_drill, neck_step, stream_step

__all__ = ["all_steps"]

_HARD = Fraction(9, 10)


def all_steps(m: Material) -> tuple[Step, ...]:
    """The steps that apply, in order, numbered."""
    made = [
        frame_step(m),
        neck_step(m),
        stream_step(m),
        *(_figure(m, plan) for plan in m.model.figures),
        *(_outside(m, uses) for uses in m.uses.values()),
        _chords(m),
        _together(m),
        _move(m),
    ]
    found = [step for step in made if step is not None]
    return tuple(replace(step, number=number) for number, step in enumerate(found, 1))


# -- what the lick adds --------------------------------------------------------------------
def _figure(m: Material, plan: FigurePlan) -> Step | None:
    key = f"figure {plan.tag}"
    ladder = m.ladder(_HARD)
    cells = cells_of(m, plan)
    leap = max(m.leap, min(12, cells.leap))
    inside = _degrees_inside(m, plan)
    shares = [share for share in (0.5, 0.35, 0.2, 0.1) if share <= max(0.35, plan.share)]
    # From another degree a figure may go through other outside notes than in the lick.
    asked = [
        m.wishes(mix={plan.tag: share, **_natural(m, names)}, leap=wide, follow="home")
        for names in dict.fromkeys((tuple(inside), tuple(m.uses) if inside else ()))
        for wide in range(leap, 13, 2)
        for share in shares
    ]
    made = m.lines(key, asked, lambda line: _shown(line, plan.tag)) or _pinned(m, key, cells, leap)
    if made is None:
        return None
    request, lines = made
    drills = figure_drills(m, cells, request.leap, ladder[0])
    if not drills:
        return None
    mix = request.mix or {}
    share = mix.get(plan.tag, 0.35)
    inside = [name for name in m.uses if name in mix or name in cells.outside]
    uses = [rule for name in inside for rule in use_rules(m, m.uses[name], None)]
    return Step(
        0,
        key,
        f"Figure {plan.tag}: the {plan.kind}",
        f"To own the idea of the figure, not only these notes: {plan.words}.",
        drills,
        lines,
        ladder,
        done_for(m, request, ladder, figures=[figure_rule(m, plan, share)], uses=uses),
        (
            SLOWER,
            "Drill it from three neighbouring degrees only, then add one on either side."
            if len(cells.cells) > 3
            else "Play its first half until it is easy, then its second, then both.",
            "Put it in once in every four bars at an agreed beat, then more often.",
        ),
    )


def _pinned(
    m: Material, key: str, cells: Cells, leap: int
) -> tuple[LineRequest, tuple[Line, ...]] | None:
    """Lines in which the cell stands note for note, for a figure that cannot come twice running in
    a steady stream.
    """
    lines: list[Line] = []
    request = m.wishes(mix={}, follow="home", leap=leap)
    for turn in range(EXAMPLES if cells.cells else 0):
        pins = figure_pins(m, cells, turn)
        made = m.lines(f"{key} {turn}", m.wider(request.with_(pins=pins)), count=1)
        if not pins or made is None:
            return None
        request = request.with_(leap=max(request.leap, made[0].leap))
        lines.append(made[1][0])
    return (request, tuple(lines)) if lines else None


def _natural(m: Material, names: Sequence[str]) -> dict[str, float]:
    return {name: m.model.natural_mix.get(name, 0.05) for name in names}


def _degrees_inside(m: Material, plan: FigurePlan) -> list[str]:
    """Outside degrees with a usage that the figure goes through in the lick."""
    figure = m.analysis.figures[int(plan.tag[1:]) - 1]
    facts = m.analysis.notes
    names = {
        use.degree
        for first, last in figure.occurrences
        for index in range(first, last + 1)
        if facts[index].is_outside
        for use in m.model.uses
        if use.above == facts[index].degree.semitones
    }
    return sorted(names)


def _outside(m: Material, uses: Sequence[OutsideUse]) -> Step | None:
    degree = uses[0].degree
    key = f"outside {degree}"
    ladder = m.ladder(_HARD)
    leap = max(m.leap, *(abs(n) for use in uses for n in (use.rise_in, use.rise_out)))
    asked = [
        m.wishes(mix={degree: share}, leap=wide, follow="home")
        for wide in range(leap, max(leap, 12) + 1, 2)
        for share in (0.1, 0.06, 0.03, 0.015)
    ]
    made = m.lines(key, asked, lambda line: _shown(line, degree))
    drills = outside_drills(m, uses, ladder[0])
    if made is None or not drills:
        return None
    request, lines = made
    ways = "; ".join(f"from {u.before} to {u.after}, {where(u)}" for u in uses)
    return Step(
        0,
        key,
        f"The {degree}, outside {m.called.the}",
        f"To use the {degree} as the lick does and in no other way: {ways}.",
        drills,
        lines,
        ladder,
        done_for(m, request, ladder, uses=use_rules(m, uses, (request.mix or {})[degree])),
        (
            SLOWER,
            f"Play the bare notes and sing the {degree} before you play it.",
            f"Agree on one place in every second bar for it; everything else stays in {m.called.the}.",
        ),
    )


def _shown(line: Line, name: str) -> float:
    """1 when an element comes in a line at all."""
    return float(
        any(n.figure == name or (n.role == "outside" and n.degree == name) for n in line.notes)
    )


# -- over the chords -----------------------------------------------------------------------
def _chords(m: Material) -> Step | None:
    if not m.changes:
        return None
    ladder = m.ladder(_HARD)
    made = m.lines(
        "chords", m.wider(m.wishes(mix={}, bars=_form_bars(m))), lambda line: _lands(m, line)
    )
    if made is None:
        return None
    request, lines = made
    drills = chord_drills(m, request, ladder[0])
    if not drills:
        return None
    # No more is asked than the frame lets these lines do.
    share = min(m.level.chord_tones, max(map(landing_share, lines)))
    return Step(
        0,
        "chords",
        "Land on the chords",
        f"To meet each new chord of {m.progression.text} with one of its own notes,"
        f" {m.called.the} leading there.",
        drills,
        lines,
        ladder,
        done_for(
            m, request, ladder, chord_tones=round(share, 2), moving=follows_chords(m.analysis)
        ),
        (
            SLOWER,
            "Play the targets alone until you know each before its chord comes.",
            "Take one chord change and go round it.",
        ),
    )


def _form_bars(m: Material) -> int:
    return min(12, max(4, len(m.progression.bars)))


def _lands(m: Material, line: Line) -> float:
    return landing_share(line) / m.level.chord_tones


def _together(m: Material) -> Step | None:
    ladder = m.ladder()
    plain = m.wishes(bars=_form_bars(m), phrase=4)
    floor = max(
        [m.leap]
        + [abs(n) for use in m.model.uses for n in (use.rise_in, use.rise_out)]
        + [min(12, cells_of(m, plan).leap) for plan in m.model.figures]
    )
    made = m.lines("together", m.wider(plain, floor), lambda line: _variety(m, line))
    if made is None:
        return None
    request, lines = made
    mix = m.model.natural_mix
    figures = [figure_rule(m, p, mix.get(p.tag, 0.1) * 0.75) for p in m.model.figures]
    uses = [
        rule
        for name, group in m.uses.items()
        for rule in use_rules(m, group, max(0.01, mix.get(name, 0.0) * 0.75))
    ]
    full = [bar for bar in m.lick.bars if bar.number and bar.is_full and bar.meter == m.lick.meter]
    drills: list[Drill] = []
    if full and len(full) <= 4:
        first, last = full[0].number, full[-1].number
        pin = m.model.placed.slice(first, last)
        around = plain.with_(
            bars=len(full) + 4, pins={3: pin}, progression=_under_the_lick(m, len(full))
        )
        asked = [around.with_(leap=leap) for leap in (floor, 12)]
        drills = line_drill(
            m, "together pin", asked, ladder[0], "The lick in the middle",
            f"The lick itself stands in bars 3 to {2 + len(full)}, over its own chords; play your"
            " own two bars into it and your own two out of it. Here is one way.",
        )  # fmt: skip
    strong = request.with_(intensity=(0.3, 1.7))
    drills += line_drill(
        m, "together grow", [strong], ladder[0], "From plain to full",
        f"Begin on {m.called.the} alone and let everything else come in more and more.",
    )  # fmt: skip
    share = m.level.chord_tones if m.changes else None
    if share is not None:
        share = round(min(share, max(map(landing_share, lines))), 2)
    return Step(
        0,
        "together",
        "Put it all together",
        "To improvise with everything the lick is made of, each in its share, as one way of"
        " playing.",
        tuple(drills),
        lines,
        ladder,
        done_for(
            m, request, ladder, figures=figures, uses=uses, chord_tones=share,
            moving=follows_chords(m.analysis),
        ),
        (
            SLOWER,
            "Find which of the earlier steps breaks down and spend a day on that one.",
            "Record a take, write down what came too seldom, and ask for it in the next one.",
        ),
    )  # fmt: skip


def _under_the_lick(m: Material, bars: int) -> Progression | None:
    """The lick's chords where it stands from bar 3 on, and their last two bars before and after it:
    they lead into it and bring it home again.
    """
    own = m.progression
    if len(own.bars) != bars:
        return None
    ends = (own.bars * 2)[-2:]
    return replace(own, bars=(*ends, *own.bars, *ends))


def _variety(m: Material, line: Line) -> float:
    """Share of the lick's elements that come in a line."""
    names = [e.name for e in m.model.elements if not e.group]
    if not names:
        return 1.0
    return sum(_shown(line, name) for name in names) / len(names)


def _move(m: Material) -> Step | None:
    ladder = m.ladder(_HARD)
    keys = new_keys(m)
    form = form_for(m)
    bars = _form_bars(m)
    plans = [(moved_chords(m, keys[0]), bars), (moved_chords(m, keys[1]), bars)]
    plans.append((form, min(12, len(form.bars))))
    lines: list[Line] = []
    leap = m.leap
    for turn, (chords, count) in enumerate(plans):
        asked = m.wider(m.wishes(progression=chords, bars=count, phrase=4), leap)
        made = m.lines(f"move {turn}", asked, count=1)
        if made is not None:
            leap = max(leap, made[0].leap)
            lines.append(made[1][0])
    if len(lines) < EXAMPLES:
        return None
    # What counts as done is played over the first line's chords, in the first new key.
    request = m.wishes(progression=plans[0][0], bars=bars, leap=leap)
    named = ", ".join(map(str, keys[: m.level.keys]))
    return Step(
        0,
        "move",
        "Move it: other keys, another form",
        f"To be free of the place where it was learned: in {named}, and over {form.name}.",
        move_drills(m, ladder[0]),
        tuple(lines),
        ladder,
        done_for(
            m,
            request,
            ladder,
            uses=[rule for group in m.uses.values() for rule in use_rules(m, group, None)],
            moving=follows_chords(m.analysis),
        ),
        (
            SLOWER,
            f"Play {m.called.moved} the new key in one position for a day before you take the rest there.",
            "Move by one fret only, then by two.",
        ),
    )
