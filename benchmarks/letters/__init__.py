"""Letters: 300 words in five fonts of different build at 30 to 300 mm, judged by an outside polygon library and the fonts' own curves.

Every second word is cut out of a plate with bridges, the others stand on a rail. What is judged: one piece, valid and not
inside out; no web under the limit (erosion); the letters' contours beside the font's curves, sampled by the font library;
advance and kerning beside a shaping library. Pictures: nodes beside an open tracer, and the time of 12 megapixels.
"""

from __future__ import annotations

import io
import itertools
import math
import time
from collections.abc import Iterable

import numpy as np

from benchmarks.figure import Figure
from benchmarks.letters.judged import Case, cases, judge, words


def in_words(*, share: float = 1.0, quick: bool = False) -> Iterable[Figure]:
    """Measure the words [mm]."""
    begun = time.process_time()
    found = [(case, judge(case)) for case in cases(0.02 if quick else share)]
    count = len(found)
    note = f"of {count} words and fonts, {(time.process_time() - begun) / count:.2f} s each"

    def share_of(name: str, bad: list[Case], bar: str = "none") -> Figure:
        few = "; ".join(f"{c.text} {c.font} {c.height:g}" for c in bad[:3])
        return Figure(
            name=name,
            ours=str(len(bad)),
            bar=bar,
            holds=not bad,
            note=f"{note}{': ' + few if few else ''}",
        )

    yield share_of("letters: not one valid piece", [c for c, j in found if j.pieces != 1 or not j.valid])
    yield share_of("letters: a web under the limit (erosion)", [c for c, j in found if j.thin])
    yield share_of("letters: told that a piece falls or is not held", [c for c, j in found if j.stops])
    worst = max(j.departure for _, j in found)
    yield Figure(
        name="letters: contour beside the font's own curves, worst [mm]",
        ours=f"{worst:.3f}",
        peer="0.1",
        ratio=worst / 0.1,
        bar="< 0.1 mm",
        holds=worst < 0.1,
        note=note,
    )
    least = min(j.kept for _, j in found)
    middle = float(np.median([j.kept for _, j in found]))
    yield Figure(
        name="letters: area of the letters left, least (median) [-]",
        ours=f"{least:.2f} ({middle:.2f})",
        bar="median > 0.8",
        holds=middle > 0.8,
        note=note,
    )


def in_metrics(*, quick: bool = False) -> Iterable[Figure]:
    """Compare advance and kerning of every pair of letters with a shaping library [-]."""
    from platewright.pattern.letters.font import SHIPPED, advance, kerning, shipped

    try:
        import uharfbuzz as hb
    except ImportError:
        yield Figure(
            name="letters: pairs set unlike a shaping library",
            ours="not measured",
            bar="none",
            holds=True,
            note="uharfbuzz is not installed",
        )
        return
    from fontTools.ttLib import TTFont

    signs = sorted(set("".join(words())) - {" "})
    bad = pairs = 0
    for word in SHIPPED:
        opened = TTFont(io.BytesIO(shipped(word).data))
        opened.flavor = None
        out = io.BytesIO()
        opened.save(out)
        face = hb.Face(out.getvalue())
        shaper = hb.Font(face)
        for a, b in itertools.product(signs[:20] if quick else signs, repeat=2):
            buffer = hb.Buffer()
            buffer.add_str(a + b)
            buffer.guess_segment_properties()
            hb.shape(shaper, buffer, {"kern": True, "liga": False, "clig": False, "calt": False})
            theirs = sum(p.x_advance for p in buffer.glyph_positions) / face.upem
            font = shipped(word)
            bad += abs(advance(font, a) + kerning(font, a, b) + advance(font, b) - theirs) > 1e-9
            pairs += 1
    yield Figure(
        name="letters: pairs set unlike a shaping library",
        ours=str(bad),
        peer="0",
        bar="none",
        holds=bad == 0,
        note=f"of {pairs} pairs",
    )


def _animal(wide: int, high: int) -> np.ndarray:
    import cv2

    seen = np.full((high, wide, 3), 235, np.uint8)
    dark = (30, 30, 35)
    at = lambda x, y: (int(x * wide), int(high - y * wide - 0.1 * high))  # noqa: E731 - a place on the picture
    for x, y, a, b in ((0.45, 0.35, 0.3, 0.15), (0.8, 0.53, 0.12, 0.1), (0.92, 0.5, 0.07, 0.04)):
        cv2.ellipse(seen, at(x, y), (int(a * wide), int(b * wide)), 0, 0, 360, dark, -1, cv2.LINE_AA)
    for x in (0.2, 0.3, 0.55, 0.65):
        cv2.rectangle(seen, at(x, 0.35), at(x + 0.07, 0.0), dark, -1)
    cv2.line(seen, at(0.68, 0.4), at(0.8, 0.53), dark, int(0.16 * wide), cv2.LINE_AA)
    return seen


def in_pictures(*, quick: bool = False) -> Iterable[Figure]:
    """Measure a silhouette's time and nodes beside an open tracer [s, -]."""
    import tempfile
    from pathlib import Path

    from PIL import Image

    from platewright.pattern.silhouette import SilhouetteOptions, silhouette

    def png(picture: np.ndarray) -> bytes:
        out = io.BytesIO()
        Image.fromarray(picture).save(out, "PNG")
        return out.getvalue()

    silhouette(png(_animal(400, 300)))
    data = png(_animal(4000, 3000))
    begun = time.process_time()
    silhouette(data)
    took = time.process_time() - begun
    yield Figure(
        name="silhouette: 12 megapixels [s]",
        ours=f"{took:.2f}",
        peer="3",
        ratio=took / 3,
        bar="< 3 s",
        holds=took < 3,
    )
    small = png(_animal(1200, 900))
    ours = silhouette(small, options=SilhouetteOptions(smooth=0.3)).nodes
    try:
        import vtracer
    except ImportError:
        yield Figure(
            name="silhouette: nodes of an animal 300 mm wide",
            ours=str(ours),
            peer="not measured",
            bar="fewer",
            holds=True,
            note="vtracer is not installed",
        )
        return
    with tempfile.TemporaryDirectory() as folder:
        source, target = Path(folder) / "a.png", Path(folder) / "a.svg"
        source.write_bytes(small)
        vtracer.convert_image_to_svg_py(
            str(source), str(target), colormode="binary", mode="spline", filter_speckle=8
        )
        theirs = sum(target.read_text().count(c) for c in "CLM")
    yield Figure(
        name="silhouette: nodes of an animal 300 mm wide",
        ours=str(ours),
        peer=f"{theirs} (vtracer)",
        ratio=ours / theirs,
        bar="<= the tracer's",
        holds=ours <= theirs,
        note="0.3 mm at most from the edge",
    )


def in_others(*, quick: bool = False) -> Iterable[Figure]:
    """Measure silhouettes of pictures made by others, and one of them beside a library's outline [mm]."""
    from pathlib import Path

    import shapely

    from platewright.errors import PlatewrightError
    from platewright.geometry import flatten
    from platewright.pattern.silhouette import SilhouetteOptions, silhouette

    try:
        import skimage
        from skimage import data, measure, morphology
    except ImportError:
        yield Figure(
            name="silhouette: pictures of others",
            ours="-",
            peer="not measured",
            bar="",
            holds=True,
            note="scikit-image is not installed",
        )
        return
    folder = Path(skimage.__file__).parent / "data"
    figures, refused, slow = 0, 0, 0.0
    for file in sorted([*folder.glob("*.png"), *folder.glob("*.jpg")])[: 6 if quick else None]:
        begun = time.process_time()
        try:
            silhouette(file.read_bytes(), where=file.name)
            figures += 1
        except PlatewrightError:
            refused += 1
        slow = max(slow, time.process_time() - begun)
    yield Figure(
        name=f"silhouette: {figures + refused} pictures of others", ours=f"{figures} outlines, {refused} sentences, {slow:.1f} s",
        bar="no traceback, < 3 s", holds=slow < 3.0,
    )  # fmt: skip
    # What is finer than the smallest detail, or than two pixels, is left out of both.
    options = SilhouetteOptions()
    pixel = options.width / np.ptp(np.nonzero(~data.horse().astype(bool))[1])
    disc = morphology.disk(int(options.smallest / pixel / 2))
    plain = morphology.closing(morphology.opening(~data.horse().astype(bool), disc), disc)
    levels = measure.find_contours(np.pad(plain, 2).astype(float), 0.5)
    theirs = max(levels, key=len)[:, ::-1]
    (cut,) = silhouette((folder / "horse.png").read_bytes(), options=options).profiles
    ours = flatten(cut.outer, tolerance=0.01)
    ours = (ours - ours.mean(axis=0)) / pixel
    placed = (theirs - theirs.mean(axis=0)) * [1.0, -1.0]
    shift = shapely.Polygon(placed).centroid, shapely.Polygon(ours).centroid
    placed = placed + [shift[1].x - shift[0].x, shift[1].y - shift[0].y]
    away = pixel * shapely.hausdorff_distance(shapely.LinearRing(placed), shapely.LinearRing(ours))
    yield Figure(
        name=f"silhouette: a horse {options.width:.0f} mm wide, largest departure [mm]", ours=f"{away:.2f}", peer=f"{pixel:.2f} a pixel", ratio=away / pixel,
        bar="<= its 0.3 mm and two pixels", holds=away <= options.smooth + 2 * pixel, note="scikit-image's outline of the same picture (public domain)",
    )  # fmt: skip


PARTS = {"words": in_words, "metrics": in_metrics, "pictures": in_pictures, "others": in_others}


def figures(*, quick: bool = False) -> Iterable[Figure]:
    """Measure all of it."""
    for part in PARTS.values():
        yield from part(quick=quick)


def sheet() -> str:
    """Return the docs' sheet as SVG: letters, digits and accents of every font with their bridges [mm]."""
    from platewright.geometry.regions.boolean import union
    from platewright.part.svg_path import paths_data
    from platewright.pattern.letters.bridges import bridge_void
    from platewright.pattern.letters.font import SHIPPED, shipped
    from platewright.pattern.letters.setting import Setting, box_of, set_text

    lines = ["ABCDEFGHIJKLM", "NOPQRSTUVWXYZ", "0123456789&@", "abdegopq ÄÅÉÖÜÑÇØ", "àâäåèéêëîïôöøûüßæ"]
    drawn, y = [], 10.0
    for word in SHIPPED:
        drawn.append(f'<text x="10" y="{y + 12:.0f}" class="h">{word}</text>')
        y += 22
        for line in lines:
            letters = set_text(line, shipped(word), Setting(height=50.0, gap=5.0, letter_spacing=3.0))
            held = bridge_void(union([p for one in letters for p in one.placed()]), 4.0, kerf=1.5)
            box = box_of(letters)
            paths = paths_data([c for p in held.void for c in p.contours()], digits=2)
            drawn.append(f'<path transform="translate({10 - box.x0:.1f} {y + box.y1:.1f})" d="{paths}"/>')
            y += math.ceil(box.height) + 10
        y += 10
    style = "path{fill:#1d2730;fill-rule:evenodd}.h{font:13px sans-serif;fill:#0b5c8a}"
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 900 {y:.0f}" width="900"><style>{style}</style>{"".join(drawn)}</svg>\n'
