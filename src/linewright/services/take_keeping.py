"""Use case: keep what was played in a take as a lick of its own."""

from __future__ import annotations

from linewright.errors import OptionError
from linewright.services.bring import BroughtIn, made_of
from linewright.services.shelf import Kept, Library, keep
from linewright.services.takes import KeptTake

__all__ = ["keep_as_lick"]

_LONGEST_TITLE = 200


def keep_as_lick(library: Library, take: KeptTake, title: str) -> Kept:
    """Put the notes of a judged take into the library; OptionError when it is not judged or the
    title is empty or too long.
    """
    lick = take.lick
    if lick is None:
        raise OptionError("this take is not judged, so it has no notes", accepted="Judge it first")
    name = " ".join(title.split())
    if not 1 <= len(name) <= _LONGEST_TITLE:
        raise OptionError(
            "the lick needs a title" if not name else f"a title of {len(name)} characters",
            accepted=f"Use up to {_LONGEST_TITLE} characters",
        )
    tonic = library.plans.get(take.entry.plan_id).sheet.tonic
    named = lick.with_(title=name)
    return keep(library, BroughtIn(named, made_of(named, tonic), tonic))
