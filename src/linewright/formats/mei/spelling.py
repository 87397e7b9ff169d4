"""Which accidentals are printed: the signature, then what stands earlier in the bar.

Common practice (Gould 2011, ch. 4): an accidental holds for its line or space until the bar
line; a note tied over the bar line does not repeat its sign, and the sign does not hold for
later notes of the new bar.
"""

from __future__ import annotations

from linewright.theory import Key, Pitch

__all__ = ["Spelling"]

#: Alteration -> MEI ``accid`` (written) and ``accid.ges`` (sounding) values.
WRITTEN = {-3: "tf", -2: "ff", -1: "f", 0: "n", 1: "s", 2: "x", 3: "ts"}
SOUNDING = {-3: "tf", -2: "ff", -1: "f", 1: "s", 2: "ss", 3: "ts"}


class Spelling:
    """The accidentals in force while a part is written from left to right."""

    def __init__(self) -> None:
        self._key: Key | None = None
        self._bar: dict[int, int] = {}

    def begin_bar(self, key: Key | None) -> None:
        """Forget the last bar's accidentals."""
        self._key = key
        self._bar.clear()

    def attributes(self, pitch: Pitch, *, tied_in: bool = False) -> dict[str, str]:
        """MEI attributes of a pitch: name, octave, and its accidental printed or implied."""
        given = {"pname": pitch.step.lower(), "oct": str(pitch.octave)}
        place = pitch.staff_position
        signature = self._key.alter(pitch.step) if self._key is not None else 0
        in_force = self._bar.get(place, signature)
        if pitch.alter != in_force and not tied_in:
            given["accid"] = WRITTEN[pitch.alter]
            self._bar[place] = pitch.alter
        elif pitch.alter:
            given["accid.ges"] = SOUNDING[pitch.alter]
        return given
