"""Typed access to JSON objects that knows the path of every field, for errors a user can act on."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any, Final, TypeVar

from linewright.errors import MusicError, ReadError

__all__ = ["Fields", "invalid"]

T = TypeVar("T")
_FRACTION_RE: Final = re.compile(r"-?\d{1,18}(?:/\d{1,18})?", re.ASCII)
_MAX_INTEGER: Final = 10**9
_SURROGATE_RE: Final = re.compile("[\ud800-\udfff]")
_NO_DEFAULT: Final = object()


def invalid(place: str, value: object, accepted: str) -> ReadError:
    """The error for a field whose value cannot be used."""
    shown = repr(value)
    shown = shown if len(shown) <= 60 else shown[:57] + "..."
    return ReadError(f"{shown} cannot be used here", place=place, accepted=accepted)


class Fields:
    """One JSON object under reading: each getter checks type and remembers what was asked for.

    Parameters
    ----------
    value : object
        The JSON value, which has to be an object.
    path : str
        Where it stands, as in ``notes[3]``; empty at the top.
    """

    def __init__(self, value: object, path: str) -> None:
        if not isinstance(value, dict):
            raise invalid(path, value, "An object in braces is expected")
        self._value: dict[str, Any] = value
        self._path = path
        self._asked: set[str] = set()

    def at(self, name: str) -> str:
        """Path of a field."""
        return f"{self._path}.{name}" if self._path else name

    def skip(self, name: str) -> None:
        """Count a field as read."""
        self._asked.add(name)

    def done(self) -> None:
        """Raise ReadError when the object holds fields nobody asked for."""
        unknown = sorted(set(self._value) - self._asked)
        if unknown:
            raise ReadError(
                f"there is no field {unknown[0]!r:.60} here",
                place=self._path or "the lick",
                accepted=f"Known fields: {', '.join(sorted(self._asked))}",
            )

    def _get(self, name: str, default: Any = _NO_DEFAULT) -> Any:
        self._asked.add(name)
        found = self._value.get(name, default)
        if found is _NO_DEFAULT:
            raise ReadError("the field is missing", place=self.at(name))
        return found

    # -- scalars -------------------------------------------------------------------------
    def text(self, name: str, default: Any = _NO_DEFAULT) -> str:
        """A string."""
        return _text(self._get(name, default), self.at(name))

    def optional_text(self, name: str) -> str | None:
        """A string, or None when absent or null."""
        found = self._get(name, None)
        return None if found is None else _text(found, self.at(name))

    def flag(self, name: str, default: bool) -> bool:
        """True or false."""
        found = self._get(name, default)
        if not isinstance(found, bool):
            raise invalid(self.at(name), found, "Write true or false")
        return found

    def integer(self, name: str, default: Any = _NO_DEFAULT) -> int:
        """A whole number of reasonable size."""
        return _integer(self._get(name, default), self.at(name))

    def optional_integer(self, name: str) -> int | None:
        """A whole number, or None when absent or null."""
        found = self._get(name, None)
        return None if found is None else _integer(found, self.at(name))

    def fraction(self, name: str, default: Any = _NO_DEFAULT) -> Fraction:
        """A fraction written ``"3/2"``; a whole number may stand without quotes."""
        return _fraction(self._get(name, default), self.at(name))

    def optional_fraction(self, name: str) -> Fraction | None:
        """A fraction, or None when absent or null."""
        found = self._get(name, None)
        return None if found is None else _fraction(found, self.at(name))

    # -- lists ---------------------------------------------------------------------------
    def _list(self, name: str, *, required: bool = False) -> list[Any]:
        found = self._get(name, _NO_DEFAULT if required else [])
        if not isinstance(found, list):
            raise invalid(self.at(name), found, "A list in square brackets is expected")
        return found

    def texts(self, name: str) -> list[str]:
        """A list of strings."""
        return [_text(item, f"{self.at(name)}[{i}]") for i, item in enumerate(self._list(name))]

    def integers(self, name: str) -> list[int]:
        """A list of whole numbers."""
        return [_integer(item, f"{self.at(name)}[{i}]") for i, item in enumerate(self._list(name))]

    def pairs(self, name: str) -> list[tuple[int, int]]:
        """A list of pairs of whole numbers."""
        found = []
        for i, item in enumerate(self._list(name)):
            place = f"{self.at(name)}[{i}]"
            if not isinstance(item, list) or len(item) != 2:
                raise invalid(place, item, "Two whole numbers in square brackets are expected")
            found.append((_integer(item[0], place), _integer(item[1], place)))
        return found

    def objects(self, name: str, *, required: bool = False) -> Iterator[Fields]:
        """A list of objects."""
        for i, item in enumerate(self._list(name, required=required)):
            yield Fields(item, f"{self.at(name)}[{i}]")

    def items(
        self,
        name: str,
        parse: Callable[[str], T],
        whole: Callable[[Fields], T] | None = None,
        *,
        required: bool = False,
    ) -> list[T]:
        """A list of musical values written as text, or as objects when ``whole`` reads them."""
        found = []
        for i, item in enumerate(self._list(name, required=required)):
            place = f"{self.at(name)}[{i}]"
            if whole is not None and isinstance(item, dict):
                found.append(whole(Fields(item, place)))
            else:
                found.append(_musical(place, parse, _text(item, place)))
        return found

    # -- values --------------------------------------------------------------------------
    def object(self, name: str) -> Fields | None:
        """An object, or None when absent or null."""
        found = self._get(name, None)
        return None if found is None else Fields(found, self.at(name))

    def value(
        self,
        name: str,
        parse: Callable[[str], Any],
        whole: Callable[[Fields], Any] | None = None,
        *,
        optional: bool = False,
    ) -> Any:
        """A musical value written as text, or as an object when ``whole`` reads one."""
        found = self._get(name, None if optional else _NO_DEFAULT)
        if found is None and optional:
            return None
        if whole is not None and isinstance(found, dict):
            fields = Fields(found, self.at(name))
            value = _musical(self.at(name), whole, fields)
            fields.done()
            return value
        return _musical(self.at(name), parse, _text(found, self.at(name)))

    def build(self, make: Callable[..., T], *values: Any) -> T:
        """Call a value class; what it finds impossible is reported at this object's path."""
        return _musical(self._path, make, *values)


def _musical(place: str, make: Callable[..., T], *values: Any) -> T:
    try:
        return make(*values)
    except MusicError as error:
        raise ReadError(error.message, place=place, accepted=error.accepted) from error


def _text(found: object, place: str) -> str:
    if not isinstance(found, str):
        raise invalid(place, found, "Text in quotes is expected")
    if _SURROGATE_RE.search(found):
        raise invalid(place, found, "Half of a surrogate pair is not text")
    return found


def _integer(found: object, place: str) -> int:
    if not isinstance(found, int) or isinstance(found, bool) or abs(found) > _MAX_INTEGER:
        raise invalid(place, found, "A whole number is expected")
    return found


def _fraction(found: object, place: str) -> Fraction:
    if isinstance(found, Fraction):
        return found
    if isinstance(found, int) and not isinstance(found, bool) and abs(found) <= _MAX_INTEGER:
        return Fraction(found)
    if isinstance(found, str) and _FRACTION_RE.fullmatch(found):
        top, _, bottom = found.partition("/")
        if not bottom or int(bottom):
            return Fraction(int(top), int(bottom or 1))
    raise invalid(place, found, 'Write a fraction in quotes, as in "3/2"')
