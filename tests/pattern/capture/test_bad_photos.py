"""Forty things a phone, a person or an attacker may hand in: each is answered with a sentence, none is measured."""

from __future__ import annotations

import functools
import io
import struct
import zlib
from collections.abc import Callable

import cv2
import numpy as np
import pytest
from examples.camera.render import shot
from examples.camera.scene import Scene, random_scene
from examples.camera.shapes import tab
from PIL import Image

from platewright.errors import InputError, PlatewrightError
from platewright.geometry import Pose, flatten, length
from platewright.pattern.capture.photo import PhotoOptions, read_photo
from platewright.pattern.image import MAX_PIXELS, read_picture
from platewright.pattern.model import Captured


@functools.cache
def scene() -> Scene:
    """Return a small, quick scene: one tab, six cards, two megapixels."""
    return random_scene(7, bench="painted", profile=tab(), board=3.0, cards=6, megapixels=2.0)


@functools.cache
def good() -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(shot(scene()))).convert("RGB"))


@functools.cache
def measured() -> Captured:
    """Return what is made of the picture as it is."""
    result = answer(shot(scene()))
    assert isinstance(result, Captured)
    return result


def jpeg(picture: np.ndarray | Image.Image, **how: object) -> bytes:
    out = io.BytesIO()
    image = picture if isinstance(picture, Image.Image) else Image.fromarray(picture)
    image.save(out, "JPEG", quality=90, **how)  # type: ignore[arg-type]
    return out.getvalue()


def png(picture: np.ndarray | Image.Image, **how: object) -> bytes:
    out = io.BytesIO()
    image = picture if isinstance(picture, Image.Image) else Image.fromarray(picture)
    image.save(out, "PNG", **how)  # type: ignore[arg-type]
    return out.getvalue()


def huge_png(wide: int, high: int) -> bytes:
    """Return a PNG that says it is huge and is some kilobytes."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = zlib.compress(b"\0" * 100_000)
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def covered(picture: np.ndarray, keep: int) -> np.ndarray:
    """Return the picture with all but `keep` cards painted over."""
    out = picture.copy()
    for laid in scene().cards[keep:]:
        corners = laid.pose.points([(-8, -8), (104, -8), (104, 85), (-8, 85)])
        spots = scene().camera.project(np.column_stack([corners, np.full(4, 3.0)]))
        cv2.fillConvexPoly(out, np.round(spots).astype(np.int32), (70, 95, 105))
    return out


def wrong_dictionary() -> np.ndarray:
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    page = np.full((900, 1200, 3), 200, np.uint8)
    for i in range(4):
        y, x = 80 + 420 * (i // 2), 100 + 600 * (i % 2)
        page[y : y + 300, x : x + 300] = cv2.aruco.generateImageMarker(book, i, 300)[..., None]
    return page


def moved() -> np.ndarray:
    kernel = np.zeros((81, 81), np.float32)
    cv2.line(kernel, (0, 20), (80, 60), 1.0, 1)
    return cv2.filter2D(good(), -1, kernel / kernel.sum())


def animated(kind: str) -> bytes:
    frames = [Image.fromarray(np.full((300, 300, 3), v, np.uint8)) for v in (10, 200)]
    out = io.BytesIO()
    frames[0].save(out, kind, save_all=True, append_images=frames[1:])
    return out.getvalue()


def crop(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    high, wide = good().shape[:2]
    return np.ascontiguousarray(good()[int(y0 * high) : int(y1 * high), int(x0 * wide) : int(x1 * wide)])


@functools.cache
def no_template() -> bytes:
    from dataclasses import replace

    away = replace(scene(), pose=Pose(5000.0, 0.0))
    return shot(away)


RNG = np.random.default_rng(4)
SVG = b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><rect width="9" height="9"/></svg>'
BAD: dict[str, Callable[[], bytes]] = {
    "empty": lambda: b"",
    "one byte": lambda: b"\xff",
    "text": lambda: b"this is not a picture, it is a letter" * 20,
    "noise bytes": lambda: RNG.bytes(5000),
    "svg named jpg": lambda: SVG,
    "pdf": lambda: b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\n",
    "gif": lambda: animated("GIF"),
    "tiff": lambda: b"II*\0" + bytes(300),
    "bmp": lambda: (lambda o: (Image.fromarray(np.zeros((300, 300, 3), np.uint8)).save(o, "BMP"), o.getvalue())[1])(io.BytesIO()),
    "avif head": lambda: b"\0\0\0\x20ftypavif" + bytes(200),
    "spoiled heic": lambda: b"\0\0\0\x18ftypheic" + RNG.bytes(400),
    "heic head only": lambda: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic",
    "1 by 1": lambda: png(np.zeros((1, 1, 3), np.uint8)),
    "strip": lambda: png(np.zeros((3, 4000, 3), np.uint8)),
    "thumbnail": lambda: jpeg(cv2.resize(good(), (160, 120))),
    "900 megapixels": lambda: huge_png(30_000, 30_000),
    "two thousand megapixels": lambda: huge_png(50_000, 50_000),
    "long and thin": lambda: huge_png(100_000, 300),
    "png without rows": lambda: huge_png(2000, 2000),
    "truncated jpeg": lambda: jpeg(good())[:60_000],
    "jpeg head only": lambda: jpeg(good())[:400],
    "truncated png": lambda: png(good())[:90_000],
    "spoiled jpeg header": lambda: jpeg(good())[:2] + RNG.bytes(3000),
    "animated png": lambda: animated("PNG"),
    "animated webp": lambda: animated("WEBP"),
    "black": lambda: jpeg(np.zeros((1200, 1600, 3), np.uint8)),
    "white": lambda: jpeg(np.full((1200, 1600, 3), 255, np.uint8)),
    "grey noise": lambda: jpeg(RNG.integers(0, 255, (900, 1200), dtype=np.uint8)),
    "stripes": lambda: jpeg(np.tile((np.arange(1600) // 20 % 2 * 255).astype(np.uint8), (1200, 1))),
    "chessboard only": lambda: jpeg(((np.indices((1200, 1600)) // 60).sum(axis=0) % 2 * 255).astype(np.uint8)),
    "no cards": lambda: jpeg(covered(good(), 0)),
    "one card": lambda: jpeg(covered(good(), 1)),
    "two cards": lambda: jpeg(covered(good(), 2)),
    "cut off": lambda: jpeg(crop(0.0, 0.0, 0.45, 0.45)),
    "wrong dictionary": lambda: jpeg(wrong_dictionary()),
    "mirrored": lambda: jpeg(np.ascontiguousarray(good()[:, ::-1])),
    "motion": lambda: jpeg(moved()),
    "out of focus": lambda: jpeg(cv2.GaussianBlur(good(), (0, 0), 14)),
    "inverted": lambda: jpeg(255 - good()),
    "no template": no_template,
}  # fmt: skip


def answer(data: bytes) -> Captured | PlatewrightError:
    try:
        return read_photo([data], options=PhotoOptions(bars=(180.0, 200.0)))
    except PlatewrightError as error:
        return error


@functools.cache
def answered(name: str) -> Captured | PlatewrightError:
    """Return the answer to one of the bad or odd pictures: it takes seconds."""
    return answer({**BAD, **ODD}[name]())


def test_there_are_forty() -> None:
    assert len(BAD) >= 40


@pytest.mark.parametrize("name", BAD)
def test_each_bad_photo_is_a_sentence(name: str) -> None:
    result = answered(name)
    if isinstance(result, Captured):
        assert result.verdict == "stop"
        stops = [f for f in result.findings if f.severity == "stop"]
        assert all(len(f.text) > 20 and len(f.do) > 10 for f in stops)
    else:
        assert len(str(result)) > 30
        assert "Traceback" not in str(result)


EXPECTED = {
    "mirrored": "C016",
    "wrong dictionary": "C017",
    "one card": "C002",
    "no cards": "C001",
    "no template": "C008",
}


@pytest.mark.parametrize("name", EXPECTED)
def test_the_sentence_is_the_right_one(name: str) -> None:
    result = answered(name)
    assert isinstance(result, Captured)
    assert EXPECTED[name] in [f.code for f in result.findings]


def on_template(
    picture: np.ndarray, change: Callable[[np.ndarray], np.ndarray], *, radius: float = 99.0
) -> np.ndarray:
    """Return the picture with a change made where the template lies, within `radius` [mm] of a place on it."""
    mask = np.zeros(picture.shape[:2], np.uint8)
    for shade, loop in ((255, tab().outer), *((0, hole) for hole in tab().holes)):
        flat = flatten(loop, tolerance=0.05)
        spots = scene().camera.project(np.column_stack([scene().pose.points(flat), np.full(len(flat), 3.0)]))
        cv2.fillPoly(mask, [np.round(spots * 16).astype(np.int32)], shade, shift=4, lineType=cv2.LINE_AA)
    centre, rim = scene().camera.project(
        np.column_stack([scene().pose.points([(-18.0, 18.0), (radius - 18.0, 18.0)]), [3.0, 3.0]])
    )
    near = np.zeros_like(mask)
    cv2.circle(near, np.round(centre).astype(int).tolist(), int(np.hypot(*(rim - centre))), 255, -1)
    share = (np.minimum(mask, near) / 255.0)[..., None]
    return np.round(picture * (1 - share) + change(picture.astype(float)) * share).astype(np.uint8)


@pytest.mark.parametrize(
    ("radius", "change", "code"),
    [(8.0, lambda p: np.full_like(p, 255.0), "C023"), (99.0, lambda p: 0.15 * p, "C027")],
)
def test_glare_and_a_template_dark_as_a_shadow_are_told(
    radius: float, change: Callable[[np.ndarray], np.ndarray], code: str
) -> None:
    plain, spoiled = answered("no notes"), answer(jpeg(on_template(good(), change, radius=radius)))
    assert isinstance(plain, Captured)
    assert isinstance(spoiled, Captured)
    assert code not in [f.code for f in plain.findings]
    assert code in [f.code for f in spoiled.findings]


# odd but good pictures: they must be read, not refused
def with_exif(**tags: object) -> bytes:
    exif = Image.Exif()
    for key, value in tags.items():
        if key.startswith("t"):
            exif[int(key[1:], 16)] = value
        else:
            exif.get_ifd(0x8769)[int(key[1:], 16)] = value
    return jpeg(good(), exif=exif)


def turned(orientation: int) -> bytes:
    """Return the good picture stored turned, with the tag that turns it back."""
    back = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}
    exif = Image.Exif()
    exif[0x0112] = orientation
    return jpeg(Image.fromarray(good()).transpose(back[orientation]), exif=exif)


ODD: dict[str, Callable[[], bytes]] = {
    "grey": lambda: jpeg(Image.fromarray(good()).convert("L")),
    "cmyk": lambda: jpeg(Image.fromarray(good()).convert("CMYK")),
    "16 bit grey": lambda: png(Image.fromarray(cv2.cvtColor(good(), cv2.COLOR_RGB2GRAY).astype(np.uint16) * 257)),
    "palette": lambda: png(Image.fromarray(good()).quantize(256)),
    "see-through": lambda: png(Image.fromarray(np.dstack([good(), np.full(good().shape[:2], 255, np.uint8)]))),
    "webp": lambda: (lambda o: (Image.fromarray(good()).save(o, "WEBP", quality=90), o.getvalue())[1])(io.BytesIO()),
    "turned 3": lambda: turned(3),
    "turned 6": lambda: turned(6),
    "turned 8": lambda: turned(8),
    "absurd focal length": lambda: with_exif(eA405=60000),
    "focal length zero": lambda: with_exif(eA405=0),
    "no notes": lambda: jpeg(good()),
}  # fmt: skip


@pytest.mark.parametrize("name", ODD)
def test_odd_but_good_pictures_are_measured_alike(name: str) -> None:
    result = answered(name)
    assert isinstance(result, Captured), result
    assert result.outer is not None, [f.text for f in result.findings]
    area, plain = (sum(loop.area() for loop in found.loops()) for found in (result, measured()))
    assert area == pytest.approx(plain, rel=0.0075)
    # half a millimetre a pixel: 0.15 mm at the edge, and what is doubtful of it is told (C028)
    assert area == pytest.approx(tab().area(), rel=0.02)
    assert "C028" in {f.code for f in result.findings}
    around = sum(length(c) for c in tab().contours())
    assert result.uncertainty is not None
    assert abs(area - tab().area()) / around <= result.uncertainty.outline


def test_a_picture_turned_by_its_notes_comes_out_upright() -> None:
    for orientation in (3, 6, 8):
        picture = read_picture(turned(orientation))
        assert picture.size == (good().shape[1], good().shape[0])
        assert np.abs(picture.rgb.astype(int) - good()).mean() < 4


def test_a_large_picture_is_halved_and_one_too_large_refused() -> None:
    big = np.zeros((6000, 8000), np.uint8)
    picture = read_picture(jpeg(big))
    assert picture.rgb.shape[:2] == (3000, 4000)
    with pytest.raises(InputError, match="megapixels"):
        read_picture(huge_png(12_000, MAX_PIXELS // 12_000 + 10))


def test_said_nonsense_is_refused() -> None:
    for bad in (
        {"thickness": -1.0},
        {"thickness": float("nan")},
        {"bars": (100.0, 200.0)},
        {"click": (2.0, 0.0)},
        {"painted": ((0.0, 0.0), (1.0, 1.0))},
    ):
        with pytest.raises(InputError):
            PhotoOptions(**bad)  # type: ignore[arg-type]
    with pytest.raises(InputError):
        read_photo([])


def test_photos_of_two_sizes_are_refused() -> None:
    with pytest.raises(InputError, match="differ in size"):
        read_photo([jpeg(good()), jpeg(crop(0, 0, 1, 0.9))])
