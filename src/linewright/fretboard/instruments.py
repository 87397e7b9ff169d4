"""Instruments and their tunings: one table, read by every reader, writer and page.

Strings are listed as players say a tuning, low to high: from the string farthest from the
floor to string 1. Open pitches and tuning names are common practice. Fret counts are those of
a long-necked instrument of its kind (24 for an electric guitar), so that a fret is refused
only where no such instrument has it.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

from linewright.errors import MusicError
from linewright.fretboard.listing import listed_strings
from linewright.score import Instrument
from linewright.theory import Pitch

__all__ = ["INSTRUMENTS", "InstrumentKind", "from_labels", "instrument", "parse_instrument"]


@dataclass(frozen=True)
class InstrumentKind:
    """A row of the table.

    Parameters
    ----------
    name : str
    aliases : tuple of str
        Other names it goes by.
    frets, courses : int
    reach : int
        Frets the hand covers in one position, one or two to a finger as the scale length lets.
    short : tuple of (int, int)
        Short strings as in :class:`linewright.score.Instrument`.
    tunings : dict of str to tuple of Pitch
        Open pitches by tuning name, string 1 first; the first is the standard one.
    """

    name: str
    aliases: tuple[str, ...]
    frets: int
    courses: int
    reach: int
    short: tuple[tuple[int, int], ...]
    tunings: dict[str, tuple[Pitch, ...]]

    @cached_property
    def standard(self) -> tuple[Pitch, ...]:
        """Open pitches of the standard tuning, string 1 first."""
        return next(iter(self.tunings.values()))

    def make(self, tuning: str, strings: tuple[Pitch, ...], capo: int) -> Instrument:
        """The instrument as a value."""
        return Instrument(self.name, strings, tuning, self.frets, capo, self.short, self.courses)


#: name (other names) | frets | strings in a course | reach | short string@fret, then its tunings.
_TABLE: Final = """
guitar (acoustic guitar, electric guitar, six-string guitar) | 24 | 1 | 4 |
  standard:             E2 A2 D3 G3 B3 E4
  drop D:               D2 A2 D3 G3 B3 E4
  double drop D:        D2 A2 D3 G3 B3 D4
  DADGAD:               D2 A2 D3 G3 A3 D4
  open D:               D2 A2 D3 F#3 A3 D4
  open E:               E2 B2 E3 G#3 B3 E4
  open G:               D2 G2 D3 G3 B3 D4
  open A:               E2 A2 E3 A3 C#4 E4
  open C:               C2 G2 C3 G3 C4 E4
  half step down:       Eb2 Ab2 Db3 Gb3 Bb3 Eb4
  whole step down:      D2 G2 C3 F3 A3 D4
seven-string guitar (7-string guitar, seven string guitar) | 24 | 1 | 4 |
  standard:             B1 E2 A2 D3 G3 B3 E4
  drop A:               A1 E2 A2 D3 G3 B3 E4
mandolin () | 24 | 2 | 6 |
  standard:             G3 D4 A4 E5
  GDAD:                 G3 D4 A4 D5
  ADAE:                 A3 D4 A4 E5
  AEAE:                 A3 E4 A4 E5
  AEAC#:                A3 E4 A4 C#5
octave mandolin (irish bouzouki, bouzouki) | 22 | 2 | 5 |
  standard:             G2 D3 A3 E4
  GDAD:                 G2 D3 A3 D4
mandola (tenor mandola) | 22 | 2 | 5 |
  standard:             C3 G3 D4 A4
tenor banjo (four-string banjo) | 19 | 1 | 5 |
  standard:             C3 G3 D4 A4
  irish:                G2 D3 A3 E4
  chicago:              D3 G3 B3 E4
five-string banjo (banjo, 5-string banjo, bluegrass banjo) | 22 | 1 | 4 | 5@5
  standard:             G4 D3 G3 B3 D4
  double C:             G4 C3 G3 C4 D4
  C:                    G4 C3 G3 B3 D4
  sawmill:              G4 D3 G3 C4 D4
  open D:               F#4 D3 F#3 A3 D4
bass (bass guitar, electric bass, four-string bass) | 24 | 1 | 4 |
  standard:             E1 A1 D2 G2
  drop D:               D1 A1 D2 G2
  half step down:       Eb1 Ab1 Db2 Gb2
five-string bass (5-string bass, 5-string bass guitar) | 24 | 1 | 4 |
  standard:             B0 E1 A1 D2 G2
ukulele (uke, soprano ukulele, concert ukulele, tenor ukulele) | 19 | 1 | 5 |
  standard:             G4 C4 E4 A4
  low G:                G3 C4 E4 A4
  D:                    A4 D4 F#4 B4
baritone ukulele (baritone uke) | 19 | 1 | 4 |
  standard:             D3 G3 B3 E4
"""

#: Other names of tunings: (instrument, name) -> name in the table.
_TUNING_ALIASES: Final = {
    ("guitar", "dropped d"): "drop D",
    ("guitar", "eb standard"): "half step down",
    ("guitar", "e flat"): "half step down",
    ("guitar", "d standard"): "whole step down",
    ("tenor banjo", "gdae"): "irish",
    ("five-string banjo", "open g"): "standard",
    ("five-string banjo", "g modal"): "sawmill",
    ("five-string banjo", "drop c"): "C",
    ("ukulele", "high g"): "standard",
    ("ukulele", "reentrant"): "standard",
}


def _read_table(table: str) -> Iterable[InstrumentKind]:
    rows: list[tuple[str, list[str]]] = []
    for line in table.strip().splitlines():
        if line.startswith(" "):
            rows[-1][1].append(line)
        else:
            rows.append((line, []))
    for head, tunings in rows:
        names, frets, courses, reach, short = (cell.strip() for cell in head.split("|"))
        name, _, others = names.rstrip(")").partition(" (")
        pairs = [line.split(":") for line in tunings]
        yield InstrumentKind(
            name,
            tuple(other.strip() for other in others.split(",") if other.strip()),
            int(frets),
            int(courses),
            int(reach),
            tuple((int(a), int(b)) for a, b in (pair.split("@") for pair in short.split())),
            {
                label.strip(): tuple(Pitch.parse(word) for word in reversed(listing.split()))
                for label, listing in pairs
            },
        )


#: Every instrument by name.
INSTRUMENTS: Final[dict[str, InstrumentKind]] = {kind.name: kind for kind in _read_table(_TABLE)}
_BY_ALIAS: Final = {
    alias: kind for kind in INSTRUMENTS.values() for alias in (kind.name, *kind.aliases)
}


def instrument(name: str, tuning: str = "standard", capo: int = 0) -> Instrument:
    """An instrument of the table by name, tuning name and capo.

    >>> instrument("mandolin").strings[0].name, instrument("guitar", "drop D").open_midi(6)
    ('E5', 38)
    """
    kind = _kind(name)
    label = _tuning_name(kind, tuning)
    if label is None:
        raise _no_tuning(kind, tuning)
    return kind.make(label, kind.tunings[label], capo)


def parse_instrument(
    name: str | None = None, tuning: str | None = None, capo: int = 0
) -> Instrument:
    """An instrument from what a player writes.

    Parameters
    ----------
    name : str or None
        A name in :data:`INSTRUMENTS` or one of its other names. None leaves it to the tuning,
        or is a guitar when there is none. A name that is not in the table is accepted when
        ``tuning`` lists the strings with their octaves.
    tuning : str or None
        A tuning's name, or the open strings low to high in any usual notation: ``DADGAD``,
        ``E A D G B E``, ``Eb-Ab-Db-Gb-Bb-Eb``, ``D2 A2 D3 G3 B3 E4``. Strings without octaves
        take the octave nearest the standard tuning's string.
    capo : int

    >>> parse_instrument("guitar", "D A D G B E").tuning, parse_instrument(None, "gDGBD").name
    ('drop D', 'five-string banjo')
    """
    if name is not None and not name.strip():
        name = None
    if tuning is None or not tuning.strip():
        return instrument(name or "guitar", capo=capo)
    if name is not None and _find(name) is None:
        return _own_instrument(name, tuning, capo)
    kinds = _kin(name) if name is not None else _guess_order(tuning)
    for kind in kinds:
        label = _tuning_name(kind, tuning)
        if label is not None:
            return kind.make(label, kind.tunings[label], capo)
        if listed_strings(tuning, kind.standard) in kind.tunings.values():
            break
    for kind in kinds:
        strings = listed_strings(tuning, kind.standard)
        if strings is not None:
            return _named(kind, strings, capo)
    raise _no_tuning(kinds[0], tuning)


def from_labels(labels: Sequence[str], name: str | None, capo: int) -> tuple[Instrument, bool]:
    """The instrument whose string names stand before the lines of a tab, top line first.

    Returns the instrument and whether the lines run low string first. Raises MusicError.
    """
    down, up = " ".join(reversed(labels)), " ".join(labels)
    kinds = [_kind(name)] if name is not None else list(INSTRUMENTS.values())
    for listing, flipped in ((down, False), (up, True)):
        for kind in kinds:
            strings = listed_strings(listing, kind.standard)
            if strings in kind.tunings.values() and strings is not None:
                return _named(kind, strings, capo), flipped
    if name is None:
        _refuse_missing_line(labels)
    return parse_instrument(name, down, capo), False


def _refuse_missing_line(labels: Sequence[str]) -> None:
    """Raise MusicError for the strings of a usual instrument with one line left out."""
    given = [label.upper() for label in labels]
    for kind in INSTRUMENTS.values():
        names = [pitch.pitch_class.name.upper() for pitch in kind.standard]
        for at, missing in enumerate(names):
            if given in (rest := names[:at] + names[at + 1 :], rest[::-1]):
                raise MusicError(
                    f"the lines {' '.join(labels)} are a {kind.name}'s without its {missing}",
                    accepted="Write all its lines, or name the instrument in a line"
                    " such as Instrument: mandolin",
                )


def _named(kind: InstrumentKind, strings: tuple[Pitch, ...], capo: int) -> Instrument:
    """The instrument with those strings, its tuning called by name when the table has it."""
    for label, known in kind.tunings.items():
        if [pitch.midi for pitch in strings] == [pitch.midi for pitch in known]:
            return kind.make(label, known, capo)
    return kind.make("custom", strings, capo)


def _guess_order(tuning: str) -> list[InstrumentKind]:
    """Instruments a bare list of strings may belong to, standard tunings first."""

    def distance(kind: InstrumentKind) -> int:
        strings = listed_strings(tuning, kind.standard)
        return 0 if strings == kind.standard else 1 if strings in kind.tunings.values() else 2

    return sorted(INSTRUMENTS.values(), key=distance)


def _own_instrument(name: str, tuning: str, capo: int) -> Instrument:
    strings = listed_strings(tuning, None)
    if strings is None:
        raise _no_instrument(name)
    return replace(Instrument(name.strip(), strings, "custom", 24, 0), capo=capo)


def _plain(text: str) -> str:
    words = text.strip().lower().replace("-", " ").replace("_", " ").replace("♭", "b").split()
    return " ".join(word for word in words if word != "tuning")


def _find(name: str) -> InstrumentKind | None:
    wanted = _plain(name)
    return next((kind for alias, kind in _BY_ALIAS.items() if _plain(alias) == wanted), None)


def _kind(name: str) -> InstrumentKind:
    kind = _find(name)
    if kind is None:
        raise _no_instrument(name)
    return kind


def _kin(name: str) -> list[InstrumentKind]:
    """The instrument and those of its kind with more or fewer strings, so that a guitar may be
    given seven.
    """
    own = _kind(name)
    return [own] + [
        kind
        for kind in INSTRUMENTS.values()
        if kind.name.endswith(f" {own.name}") and len(kind.standard) != len(own.standard)
    ]


def _tuning_name(kind: InstrumentKind, tuning: str) -> str | None:
    wanted = _plain(tuning)
    for label in kind.tunings:
        if _plain(label) == wanted:
            return label
    return _TUNING_ALIASES.get((kind.name, wanted))


def _no_instrument(name: str) -> MusicError:
    near = difflib.get_close_matches(name.strip().lower()[:60], _BY_ALIAS, n=3, cutoff=0.5)
    hint = f"Did you mean {' or '.join(near)}?" if near else f"Use one of {', '.join(INSTRUMENTS)}"
    return MusicError(
        f"no instrument is called {name.strip()[:60]!r}",
        accepted=f"{hint}; any other by listing its strings with octaves, as in D3 A3 D4",
    )


def _no_tuning(kind: InstrumentKind, tuning: str) -> MusicError:
    return MusicError(
        f"{tuning.strip()[:60]!r} is no tuning of the {kind.name}",
        accepted=f"Use one of {', '.join(kind.tunings)}, or list its {len(kind.standard)} strings"
        f" low to high, as in {' '.join(p.name for p in reversed(kind.standard))}",
    )
