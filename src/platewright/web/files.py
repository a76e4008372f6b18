"""Files in and out over the API: bounded uploads whose first bytes are looked at, safe downloads."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import Response, UploadFile

from platewright.errors import InputError
from platewright.shop.folder.store import FileInfo
from platewright.shop.media import media_of
from platewright.web.problems import TooBigError

__all__ = ["MAX_PHOTO", "MAX_TEXT", "checked_upload", "served"]

MAX_PHOTO = 40 << 20
"""Largest picture [bytes]."""
MAX_TEXT = 12 << 20
"""Largest drawing or points file [bytes]."""
INLINE = {"image/jpeg", "image/png", "image/webp", "application/pdf"}


async def checked_upload(file: UploadFile) -> tuple[bytes, str]:
    """Return an upload's bytes and media type; size [bytes] is bounded while it is read.

    Raises
    ------
    TooBigError
        If it is bigger than its kind may be.
    InputError
        If it is empty or of no known kind.
    """
    chunks, size = [], 0
    while chunk := await file.read(1 << 20):
        size += len(chunk)
        if size > MAX_PHOTO:
            raise TooBigError("The file is too big.", where="file", allowed=f"{MAX_PHOTO >> 20} MB")
        chunks.append(chunk)
    data = b"".join(chunks)
    if not data:
        raise InputError("The file is empty.", where="file", do="Choose another.")
    media = media_of(data, file.filename or "")
    if media.startswith("text/") and size > MAX_TEXT:
        raise TooBigError("The file is too big.", where="file", allowed=f"{MAX_TEXT >> 20} MB")
    return data, media


def served(info: FileInfo, data: bytes, *, name: str = "") -> Response:
    """Return a kept file as a response: pictures and PDF to look at, everything else to download."""
    shown = "inline" if info.media in INLINE and not name else "attachment"
    spoken = quote(name or info.name, safe="")
    headers = {
        "content-disposition": f"{shown}; filename*=UTF-8''{spoken}",
        "cache-control": "private, max-age=31536000, immutable",
        "etag": f'"{info.sha256}"',
    }
    return Response(data, media_type=info.media, headers=headers)
