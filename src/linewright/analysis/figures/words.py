"""Figures in words: number, direction and distance the way a teacher says them."""

from __future__ import annotations

from collections.abc import Sequence

from linewright.analysis.prose import counted, interval, times

__all__ = ["contour_words", "moved_words"]


def moved_words(size: float, noun: str) -> str:
    """A distance with its direction: ``one frame step lower``, ``at the same pitch``."""
    if not size:
        return "at the same pitch"
    way = "higher" if size > 0 else "lower"
    if size != int(size):
        return f"a little {way}"
    if noun == "semitone" and abs(size) > 2:
        return f"{interval(int(size))} {way}"
    return f"{counted(abs(int(size)), noun)} {way}"


def contour_words(moves: Sequence[float], notes: str) -> tuple[str, str]:
    """What a cell does, as a verb phrase and its short form for saying it again.

    >>> contour_words((-1, -1, -1), "frame note")
    ('falls through four frame notes', 'falls again')
    """
    count = len(moves) + 1
    ways = [(move > 0) - (move < 0) for move in moves]
    if not any(ways):
        return f"repeats one note {times(count)}", "repeats it again"
    plain = all(abs(move) == 1 for move in moves)
    if all(way == ways[0] for way in ways):
        verb = "climbs" if ways[0] > 0 else "falls"
        if plain and notes == "semitone":
            if count == 2:
                return f"{verb} a semitone", f"{verb} again"
            return f"{verb} by semitones through {counted(count, 'note')}", f"{verb} again"
        if plain:
            return f"{verb} through {counted(count, notes)}", f"{verb} again"
        if len(moves) == 1:
            far = "a step" if plain else "a skip"
            return f"{verb} by {far}", f"{verb} again"
        how = "by skips " if all(abs(move) > 1 for move in moves) else ""
        if all(abs(move) < 1 for move in moves):
            how = "note by note "
        return f"{verb} {how}through {counted(count, 'note')}", f"{verb} again"
    legs: list[list[float]] = []
    for way, move in zip(ways, moves, strict=True):
        if legs and legs[-1][0] == way:
            legs[-1][1] += abs(move)
        else:
            legs.append([float(way), abs(move)])
    if len(legs) == 2 and legs[0][0] and legs[1][0]:
        first, then = ("climbs", "falls back") if legs[0][0] > 0 else ("falls", "turns back up")
        return f"{first} and {then} in {counted(count, 'note')}", f"{first} and {then} again"
    end = sum(moves)
    where = "higher than" if end > 0 else "lower than" if end < 0 else "where"
    return f"winds through {counted(count, 'note')} and ends {where} it began", "winds again"
