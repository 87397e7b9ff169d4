"""Reading forms: fields as text, files as bytes, files carried from one page to the next."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request

from linewright.errors import MusicError, OptionError, ReadError, TakeError
from linewright.web.guard import MAX_UPLOAD_BYTES

__all__ = ["Fields", "Upload", "form_of", "read_form"]

_MOST_FIELDS = 20_000
_LONGEST_NAME = 80
_CARRIED = ("carried", "filename")


@dataclass(frozen=True)
class Upload:
    """A file as it was uploaded."""

    name: str
    data: bytes

    @contextmanager
    def reading(self) -> Iterator[bytes]:
        """Its bytes; what turns out wrong in them is said of the file by its name."""
        try:
            yield self.data
        except (ReadError, MusicError, TakeError) as error:
            name = "".join(filter(str.isprintable, self.name))[:_LONGEST_NAME]
            raise error.in_file(error.file or name) from error.__cause__

    @property
    def carried(self) -> str:
        """The bytes as text, to be sent along by the next form."""
        return base64.b64encode(self.data).decode()


class Fields:
    """The fields of a form that was sent."""

    def __init__(self, form: FormData, upload: Upload | None) -> None:
        self._form = form
        self._upload = upload

    def text(self, name: str, default: str = "") -> str:
        """A field's text, as typed but for line ends."""
        value = self._form.get(name, default)
        if not isinstance(value, str):
            raise OptionError(f"the field {name!r:.40} holds a file, not text")
        return value.replace("\r\n", "\n")

    def optional(self, name: str) -> str | None:
        """A field's text without outer spaces, None when empty or not there."""
        return self.text(name).strip() or None

    def given(self, name: str) -> str | None:
        """A field's text, None only when the form has no such field."""
        return self.text(name) if name in self._form else None

    def numbers(self, name: str) -> frozenset[int]:
        """All values of a field of numbers."""
        values = [value for value in self._form.getlist(name) if isinstance(value, str)]
        if not all(value.isascii() and value.isdigit() and len(value) < 9 for value in values):
            raise OptionError(f"the field {name!r:.40} holds what is no number")
        return frozenset(map(int, values))

    def pairs(self) -> list[tuple[str, str]]:
        """Everything that was sent, to be sent once more: a file is carried along."""
        told = [
            (name, value.replace("\r\n", "\n"))
            for name, value in self._form.multi_items()
            if isinstance(value, str) and (self._upload is None or name not in _CARRIED)
        ]
        if self._upload is not None:
            told += [("carried", self._upload.carried), ("filename", self._upload.name)]
        return told

    def upload(self) -> Upload:
        """The file chosen on this page, or the one carried along from the page before."""
        if self._upload is not None:
            return self._upload
        carried = self.text("carried")
        if not carried:
            raise OptionError("no file was chosen", accepted="Choose a file to bring in")
        try:
            data = base64.b64decode(carried, validate=True)
        except (binascii.Error, ValueError) as error:
            raise OptionError(
                "the file carried along is damaged", accepted="Choose the file again"
            ) from error
        return Upload(self.text("filename"), data)


async def read_form(request: Request) -> Fields:
    """The form of a request (a FastAPI dependency)."""
    form = await request.form(max_files=1, max_fields=_MOST_FIELDS, max_part_size=MAX_UPLOAD_BYTES)
    upload = None
    file = form.get("file")
    if isinstance(file, UploadFile):
        data = await file.read()
        if file.filename:
            upload = Upload(file.filename, data)
    return Fields(form, upload)


def form_of(**fields: dict[str, Any]) -> dict[str, Any]:
    """The OpenAPI description of a multipart form with a file and other fields."""
    schema = {
        "type": "object",
        "required": ["file"],
        "properties": {"file": {"type": "string", "format": "binary"}, **fields},
    }
    return {
        "requestBody": {
            "required": True,
            "content": {"multipart/form-data": {"schema": schema}},
        }
    }
