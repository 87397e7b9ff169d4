"""The exception tree. Every error a user can meet is one of these.

    LinewrightError
    ├── InputError            something the user gave cannot be used
    │   ├── ReadError         a file or text in some format could not be read
    │   │   ├── ChoiceNeeded  the file is sound but holds several parts, voices or tunes: pick one
    │   │   └── TooLarge      the input passes a stated size limit
    │   ├── MusicError        a musical value is impossible (pitch, degree, chord, meter, fret)
    │   ├── AlreadyKept       the same lick is in the library, and a second one was not asked for
    │   ├── OptionError       an option or argument is not one that is accepted
    │   └── TakeError         a recording holds nothing that can be judged
    ├── WriteError            a lick holds something the chosen format cannot say
    ├── NotFound              no such lick, file or record in the library
    └── StoreError            the library on disk cannot be opened or written

A message says what was wrong, where, and what would be accepted.
"""

from __future__ import annotations

from typing import Self

__all__ = [
    "AlreadyKept",
    "ChoiceNeeded",
    "InputError",
    "LinewrightError",
    "MusicError",
    "NotFound",
    "OptionError",
    "ReadError",
    "StoreError",
    "TakeError",
    "TooLarge",
    "WriteError",
]


class LinewrightError(Exception):
    """Base of all errors Linewright raises on purpose.

    Parameters
    ----------
    message : str
        What was wrong, in one sentence, without a trailing full stop.
    accepted : str, optional
        What would have been accepted, or what to do about it.
    line, column : int, optional
        Place in a text input, both counted from 1.
    place : str, optional
        Place in words where line and column do not apply ("bar 3, beat 2").
    """

    def __init__(
        self,
        message: str,
        *,
        accepted: str | None = None,
        line: int | None = None,
        column: int | None = None,
        place: str | None = None,
    ) -> None:
        self.message = message
        self.accepted = accepted
        self.line = line
        self.column = column
        self.place = place
        self.file: str | None = None
        super().__init__(message)

    def in_file(self, name: str) -> Self:
        """The same error, naming the file it was met in."""
        self.file = name
        return self

    @property
    def where(self) -> str:
        """The place in words, or an empty string."""
        if self.line is not None:
            text = f"line {self.line}"
            if self.column is not None:
                text += f", column {self.column}"
            return f"{text} ({self.place})" if self.place else text
        return self.place or ""

    def __str__(self) -> str:
        text = f"{self.where}: {self.message}" if self.where else self.message
        if self.file:
            text = f"{self.file}: {text}"
        if self.accepted:
            text += f". {self.accepted}"
        return text


class InputError(LinewrightError):
    """Something the user gave cannot be used."""


class ReadError(InputError):
    """A file or text could not be read in the format it claims or seems to have."""


class ChoiceNeeded(ReadError):
    """The input is sound but holds several candidates and the user has to pick.

    ``options`` lists what may be picked, in the words the chooser takes; ``kind`` says what they
    are: ``tune``, ``part``, ``voice`` or ``track``.
    """

    def __init__(
        self,
        message: str,
        *,
        options: tuple[str, ...],
        kind: str,
        accepted: str | None = None,
    ) -> None:
        super().__init__(message, accepted=accepted)
        self.options = options
        self.kind = kind


class TooLarge(ReadError):
    """The input passes a stated size limit."""


class MusicError(InputError):
    """A musical value is impossible: no such pitch, degree, chord, meter or fret."""


class AlreadyKept(InputError):
    """The same lick is in the library already, as number ``number`` under the title ``title``."""

    def __init__(self, number: int, title: str) -> None:
        super().__init__(
            f"this lick is already kept as number {number}, {title}",
            accepted="Ask for it to keep a second one",
        )
        self.number = number
        self.title = title


class OptionError(InputError):
    """An option or argument has a value that is not accepted."""


class TakeError(InputError):
    """A recording holds nothing that can be judged: no notes, or none on the step's grid."""


class WriteError(LinewrightError):
    """A lick holds something the chosen format cannot say."""


class NotFound(LinewrightError):
    """No such lick, file or record."""


class StoreError(LinewrightError):
    """The library on disk cannot be opened, read or written."""
