"""The only door for pictures: size-capped, and a sentence for everything that is not one.

Pictures are opened with Pillow, never handed raw to a vision library: a picture of 900 megapixels in a
100 kB file is refused from its header. Allowed: JPEG, PNG, WebP, HEIF. The camera's own turn (EXIF) is
applied once; CMYK, grey, 16-bit, palette and see-through pictures come out as 8-bit RGB.
"""

from __future__ import annotations

import io
import math
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from platewright.errors import InputError

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["MAX_BYTES", "MAX_PIXELS", "Bytes", "Picture", "read_picture"]

Bytes = NDArray[np.uint8]

MAX_BYTES = 80_000_000
"""Largest file that is looked at [bytes]."""

MAX_PIXELS = 110_000_000
"""Largest picture that is opened [px]: a 108-megapixel phone, and nothing above."""

WORK_PIXELS = 26_000_000
"""Larger pictures are halved until they fit [px]; more pixels measure no better and take the memory."""

_MOST_SIDE = 30_000
_FULL_FRAME_DIAGONAL = 43.267
_ALLOWED = "JPEG, PNG, WebP or HEIC picture, up to 80 MB and 110 megapixels"


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture, upright.

    Attributes
    ----------
    rgb : (H, W, 3) 8-bit
    focal : focal length said by the file [px], None if it says nothing sensible
    dpi : resolution said by the file across and up [1/inch], None if not said
    """

    rgb: Bytes
    focal: float | None = None
    dpi: tuple[float, float] | None = None

    @property
    def size(self) -> tuple[int, int]:
        """Width and height [px]."""
        return int(self.rgb.shape[1]), int(self.rgb.shape[0])

    def grey(self) -> NDArray[np.uint8]:
        """Return its brightness (H, W) [-]."""
        import cv2

        return np.asarray(cv2.cvtColor(self.rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def _is_heif(data: bytes) -> bool:
    return data[4:8] == b"ftyp" and data[8:12] in {
        b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1",
    }  # fmt: skip


def _kind(data: bytes) -> str:
    """Say in words what a file that is no allowed picture looks like."""
    head = data[:512].lstrip().lower()
    if head.startswith((b"<?xml", b"<svg")) or b"<svg" in head:
        return "an SVG drawing"
    if head.startswith(b"%pdf"):
        return "a PDF"
    if head.startswith(b"gif8"):
        return "a GIF"
    if head.startswith((b"ii*\0", b"mm\0*")):
        return "a TIFF"
    if data[4:12] in (b"ftypavif", b"ftypisom", b"ftypmp42", b"ftypqt  "):
        return "a film or an AVIF picture"
    return "no picture this program knows"


def _opened(data: bytes, where: str) -> Image.Image:
    from PIL import Image, UnidentifiedImageError

    try:
        if _is_heif(data):
            import pi_heif

            heif = pi_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=True)
            _check_size(heif.size, where)
            picture = heif.to_pillow()
            picture.info["turned"] = True
            return picture  # type: ignore[no-any-return]
        return Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP"))
    except InputError:
        raise
    except Image.DecompressionBombError:
        raise InputError(
            "The picture is far larger than any camera's.", where=where, allowed=_ALLOWED
        ) from None
    except UnidentifiedImageError:
        raise InputError(f"The file is {_kind(data)}.", where=where, allowed=_ALLOWED) from None
    except Exception as bad:  # noqa: BLE001 - decoders raise anything on a spoiled header
        raise InputError(
            f"The picture cannot be opened ({type(bad).__name__}).", where=where, allowed=_ALLOWED
        ) from None


def _check_size(size: tuple[int, int], where: str) -> None:
    wide, high = size
    if wide * high > MAX_PIXELS or max(size) > _MOST_SIDE:
        raise InputError(
            f"The picture has {wide} by {high} pixels ({wide * high / 1e6:.0f} megapixels).",
            where=where,
            allowed=_ALLOWED,
            do="Set the camera to 12 megapixels.",
        )
    if min(size) < 200:
        raise InputError(
            f"The picture has only {wide} by {high} pixels.",
            where=where,
            allowed="200 pixels or more each way",
            do="Send the photo as the camera wrote it, not a small copy.",
        )


def _focal(picture: Image.Image) -> float | None:
    """Return the focal length for the picture's own size [px], from the 35 mm equivalent, by its diagonal."""
    try:
        focal = float(picture.getexif().get_ifd(0x8769).get(0xA405, 0) or 0)
    except Exception:  # noqa: BLE001 - absurd notes are no notes
        return None
    if not (math.isfinite(focal) and 9.0 <= focal <= 300.0):
        return None
    return focal * math.hypot(*picture.size) / _FULL_FRAME_DIAGONAL


def _dpi(picture: Image.Image) -> tuple[float, float] | None:
    try:
        across, up = (float(v) for v in picture.info["dpi"])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    fine = all(math.isfinite(v) and 40 <= v <= 10_000 for v in (across, up))
    return (across, up) if fine else None


def _as_rgb(picture: Image.Image) -> Bytes:
    from PIL import Image

    if picture.mode.startswith(("I", "F")):
        deep = np.asarray(picture, dtype=np.float32)
        top = 65535.0 if deep.max(initial=0) > 255 else 255.0
        grey = np.clip(deep * (255.0 / top), 0, 255).astype(np.uint8)
        return np.repeat(grey[..., None], 3, axis=2)
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        clear = picture.convert("RGBA")
        white = Image.new("RGBA", clear.size, (255, 255, 255, 255))
        picture = Image.alpha_composite(white, clear)
    return np.ascontiguousarray(np.asarray(picture.convert("RGB"), dtype=np.uint8))


def _loaded(picture: Image.Image, where: str) -> Bytes:
    from PIL import ImageOps

    try:
        if picture.format == "JPEG" and picture.width * picture.height > WORK_PIXELS:
            picture.draft("RGB", (picture.width // 2, picture.height // 2))
        picture.load()
        if not picture.info.get("turned"):
            picture = ImageOps.exif_transpose(picture)
        while picture.width * picture.height > WORK_PIXELS:
            picture = picture.reduce(2)
        return _as_rgb(picture)
    except Exception as bad:  # noqa: BLE001 - decoders raise anything on spoiled data
        cut = "truncated" in str(bad).lower() or "premature" in str(bad).lower()
        what = "The file ends before the picture does" if cut else "The picture's data are spoiled"
        raise InputError(f"{what}.", where=where, do="Copy the file from the phone again.") from None


def read_picture(data: bytes, *, where: str = "photo") -> Picture:
    """Read a picture file into upright 8-bit RGB.

    Parameters
    ----------
    data : the file
    where : its name, for sentences

    Returns
    -------
    Picture; sizes [px]

    Raises
    ------
    InputError
        For anything but a whole, single, sensibly sized picture of an allowed kind.
    """
    if not data:
        raise InputError("The file is empty.", where=where, allowed=_ALLOWED)
    if len(data) > MAX_BYTES:
        raise InputError(f"The file has {len(data) / 1e6:.0f} MB.", where=where, allowed=_ALLOWED)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # decoders print what they think of spoiled notes
        picture = _opened(data, where)
        _check_size(picture.size, where)
        if picture.format in {"PNG", "WEBP"} and getattr(picture, "n_frames", 1) > 1:
            raise InputError("The file is a film, not one picture.", where=where, allowed=_ALLOWED)
        focal, dpi, first = _focal(picture), _dpi(picture), math.hypot(*picture.size)
        rgb = _loaded(picture, where)
    shrunk = math.hypot(*rgb.shape[:2]) / first
    return Picture(
        rgb,
        None if focal is None else focal * shrunk,
        None if dpi is None else (dpi[0] * shrunk, dpi[1] * shrunk),
    )
