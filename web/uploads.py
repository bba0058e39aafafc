"""A form that brings a file: its fields in full, and the file in a place of its own, counted.

The bytes go from the line to a temporary file, never all into memory. A file that is too large is
read past and thrown away, so that the browser gets to read why, and nothing else it sent is lost.
"""

from __future__ import annotations

import tempfile
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from functools import partial
from io import BytesIO
from typing import IO, Any

from fastapi import HTTPException, Request
from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, parse_options_header
from starlette.datastructures import UploadFile
from starlette.requests import ClientDisconnect

from .forms import Fields

IN_MEMORY = 256 * 1024
"""Bytes of a file that are held in memory before it goes to the disk."""
LONGEST_TEXT = 256 * 1024
"""Bytes of everything in a form that is not its file."""
MOST_PARTS = 300
NO_FORM = "Answers are accepted only from a form on one of these pages."


@dataclass
class Upload:
    """A form with its file. ``size`` counts every byte of the file, also those thrown away."""

    fields: Fields
    most: int
    name: str = ""
    size: int = 0
    file: IO[bytes] = field(default_factory=partial(tempfile.SpooledTemporaryFile, IN_MEMORY))

    @property
    def empty(self) -> bool:
        """Whether no file was chosen."""
        return self.size == 0

    @property
    def too_large(self) -> bool:
        """Whether it has more bytes than are taken."""
        return self.size > self.most

    def read(self) -> bytes:
        """The bytes that were taken, at most ``most``."""
        self.file.seek(0)
        return self.file.read()


class _Parts:
    """What the parser calls back as it goes through a body."""

    def __init__(self, upload: Upload, file: str) -> None:
        self.upload, self.file = upload, file
        self.text_left, self.parts_left = LONGEST_TEXT, MOST_PARTS
        self.finished = False

    def callbacks(self) -> Any:
        return {
            "on_part_begin": self.begin,
            "on_header_field": self.header_name,
            "on_header_value": self.header_value,
            "on_header_end": self.header_end,
            "on_part_data": self.data,
            "on_part_end": self.end,
            "on_end": self.all,
        }

    def begin(self) -> None:
        self.parts_left -= 1
        if self.parts_left < 0:
            raise HTTPException(413, f"A form may have at most {MOST_PARTS} fields.")
        self.head, self.value = b"", b""
        self.name, self.text = "", bytearray()

    def header_name(self, data: bytes, start: int, end: int) -> None:
        self._count(end - start)
        self.head += data[start:end]

    def header_value(self, data: bytes, start: int, end: int) -> None:
        self._count(end - start)
        self.value += data[start:end]

    def header_end(self) -> None:
        if self.head.lower() == b"content-disposition":
            _, options = parse_options_header(self.value)
            self.name = options.get(b"name", b"").decode("utf-8", "replace")
            if self.name == self.file:
                self.upload.name = options.get(b"filename", b"").decode("utf-8", "replace")
        self.head, self.value = b"", b""

    def data(self, data: bytes, start: int, end: int) -> None:
        if self.name != self.file:
            self._count(end - start)
            self.text += data[start:end]
            return
        self.upload.size += end - start
        if not self.upload.too_large:
            self.upload.file.write(data[start:end])

    def end(self) -> None:
        if self.name and self.name != self.file:
            self.upload.fields[self.name] = self.text.decode("utf-8", "replace").strip()

    def all(self) -> None:
        self.finished = True

    def _count(self, size: int) -> None:
        self.text_left -= size
        if self.text_left < 0:
            raise HTTPException(
                413, f"The words of this form are too many: {LONGEST_TEXT // 1024} kB are taken."
            )


async def read_desk_upload(request: Request, *, file: str, most: int) -> AsyncIterator[Upload]:
    """The same for a page of the desk, whose gate has read the form to see who printed it.

    It was counted on its way in and lies on the disk. Raises 415 for another kind of body.
    """
    kind, _ = parse_options_header(request.headers.get("content-type", ""))
    if kind != b"multipart/form-data":
        raise HTTPException(415, NO_FORM)
    # Read once for each request: this is what the gate read.
    async with request.form() as form:
        words = {name: value for name, value in form.multi_items() if isinstance(value, str)}
        upload = Upload(Fields(words), most)
        upload.file.close()
        sent = form.get(file)
        if isinstance(sent, UploadFile):
            upload.name, upload.size, upload.file = sent.filename or "", sent.size or 0, sent.file
            yield upload
        else:
            with BytesIO() as upload.file:
                yield upload


async def read_upload(request: Request, *, file: str, most: int) -> Upload:
    """The fields of a form, and the file in the field called ``file``.

    Raises 415 for another kind of body, 400 for one cut short, 413 for too many words.
    """
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    if kind != b"multipart/form-data" or b"boundary" not in options:
        raise HTTPException(415, NO_FORM)
    upload = Upload(Fields(), most)
    try:
        await _fill(_Parts(upload, file), options[b"boundary"], request)
    except BaseException:
        upload.file.close()
        raise
    return upload


async def _fill(parts: _Parts, boundary: bytes, request: Request) -> None:
    parser = MultipartParser(boundary, parts.callbacks())
    try:
        async for piece in request.stream():
            parser.write(piece)
        parser.finalize()
    except FormParserError:
        raise HTTPException(400, "What was sent could not be read; send it again.") from None
    except ClientDisconnect:
        # Nobody is left to read this; it only ends the request in good order.
        raise HTTPException(400, "The connection was lost before all had come.") from None
    if not parts.finished:
        raise HTTPException(400, "What was sent was cut short; send it again.")
