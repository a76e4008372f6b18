"""What kind of file it is, by its first bytes: pictures, drawings, points; nothing else comes into the shop."""

from __future__ import annotations

from platewright.errors import InputError

__all__ = ["media_of"]

_PICTURES = {b"\xff\xd8\xff": "image/jpeg", b"\x89PNG\r\n\x1a\n": "image/png"}
_FONTS = {
    b"\x00\x01\x00\x00": "font/ttf",
    b"OTTO": "font/otf",
    b"true": "font/ttf",
    b"ttcf": "font/collection",
    b"wOFF": "font/woff",
}
_HEIF = {b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"heim", b"heis"}


def media_of(data: bytes, name: str) -> str:
    """Return the media type by the first bytes; the name only tells texts apart.

    Raises
    ------
    InputError
        If it is nothing this program reads.
    """
    for magic, media in _PICTURES.items():
        if data.startswith(magic):
            return media
    if (font := _FONTS.get(data[:4])) is not None:
        from platewright.pattern.letters.font import read_font

        read_font(data, name)
        return font
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    if data[4:8] == b"ftyp" and data[8:12] in _HEIF:
        return "image/heic"
    if (
        name.lower().endswith((".dxf", ".svg", ".csv", ".txt", ".tsv", ".asc", ".json"))
        and b"\0" not in data[:4096]
    ):
        return "text/plain"
    raise InputError(
        f"'{name[:80]}' is no picture, drawing, font or points file this program reads.", where="file",
        allowed="JPEG, PNG, WEBP, HEIC; DXF, SVG, CSV; TTF, OTF, WOFF",
        do="Save it as one of these and add it again; a cut program is read back by 'platewright read FILE --program DIALECT'.",
    )  # fmt: skip
