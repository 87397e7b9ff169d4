"""Linewright: what a lick is made of, and practice made from it.

    >>> import linewright
    >>> tab = '''Key: G
    ... e|----------------|
    ... B|----------------|
    ... G|0-0-2-4-2-0-----|
    ... D|------------2-0-|
    ... A|----------------|
    ... E|----------------|
    ... '''
    >>> lick = linewright.read_text(tab)
    >>> linewright.analyze(lick).frame_name
    'G major pentatonic'
    >>> model = linewright.line_model(linewright.analyze(lick))
    >>> from linewright.lines import LineRequest
    >>> line = model.sample(LineRequest(bars=4, progression="1 4 5 1", seed=3))
    >>> len(line.lick.bars), line.notes[0].role
    (4, 'frame')

Heavy libraries are imported only by the calls that need them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

__version__ = "0.1.0"

if TYPE_CHECKING:
    from os import PathLike

    from linewright.analysis import Analysis
    from linewright.lines import LineModel
    from linewright.score import Instrument, Lick
    from linewright.theory import PitchClass

__all__ = ["analyze", "line_model", "read", "read_text", "write"]


def read(path: str | PathLike[str], *, format: str | None = None) -> Lick:
    """Read one lick from a file: text tab, ABC, MusicXML, MIDI or JSON.

    Parameters
    ----------
    path : path
    format : str, optional
        A format's name when neither content nor ending tells.

    Raises
    ------
    linewright.errors.ReadError
        With line and column or another place, and what would be accepted; ChoiceNeeded when the
        file holds several tunes, parts or voices (``linewright.formats.ReadOptions`` picks one).
    """
    from pathlib import Path

    from linewright.errors import ReadError
    from linewright.formats import read_bytes

    try:
        data = Path(path).read_bytes()
    except OSError as error:
        raise ReadError(f"{path} cannot be read: {error.strerror or error}") from error
    return read_bytes(data, Path(path).name, format=format)


def read_text(text: str, *, format: str | None = None) -> Lick:
    """Read one lick from text: a text tab, ABC, MusicXML or JSON."""
    from linewright.formats import read_bytes

    return read_bytes(text.encode(), None, format=format)


def write(lick: Lick, path: str | PathLike[str], *, format: str | None = None) -> None:
    """Write a lick; the ending tells the format unless ``format`` does."""
    from pathlib import Path

    from linewright.errors import OptionError
    from linewright.formats import FORMATS, write_bytes

    ending = Path(path).suffix.lower()
    named = format or next((f.name for f in FORMATS.values() if ending in f.extensions), None)
    if named is None:
        raise OptionError(
            f"no format ends in {ending!r}", accepted=f"Use one of {', '.join(FORMATS)}"
        )
    Path(path).write_bytes(write_bytes(lick, named))


def analyze(lick: Lick, tonic: PitchClass | str | None = None) -> Analysis:
    """Say what a lick is made of; see :func:`linewright.analysis.analyze`."""
    from linewright.analysis import analyze as run

    return run(lick, tonic)


def line_model(analysis: Analysis, *, instrument: Instrument | None = None) -> LineModel:
    """Learn from a lick how to make lines; ``.sample(...)`` makes one.

    See :func:`linewright.lines.line_model`, and :class:`linewright.lines.LineRequest` for what
    a line can be asked to be.
    """
    from linewright.lines import line_model as learn

    return learn(analysis, instrument=instrument)
