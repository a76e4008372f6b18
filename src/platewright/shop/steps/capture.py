"""Station pattern, captured kinds: photo, scan, traced points, drawing file."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, cast

import numpy as np

from platewright.errors import FailureData, InputError
from platewright.findings import Finding, finding
from platewright.geometry import Contour, Profile
from platewright.geometry.contour import Floats
from platewright.shop import sources
from platewright.shop.context import JobContext
from platewright.shop.document import PartEntry
from platewright.shop.results import FileData, NumberData, PatternData, RelationData
from platewright.shop.scene import (
    DIGITS,
    ImageData,
    Item,
    box_of,
    box_round,
    item,
    profile_item,
    scene,
    spot_of,
)
from platewright.shop.steps.common import Made, Report, kept_file, number
from platewright.shop.steps.shaped import part_result
from platewright.shop.values import beside
from platewright.units import parse

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from platewright.part.model import Mark
    from platewright.pattern.drawing.model import Drawn
    from platewright.pattern.model import Captured, Outline
    from platewright.pattern.shape import Fitted

__all__ = ["drawn_file", "kept_picture", "photographed", "scanned", "traced"]

HEAT = (0.05, 0.1, 0.2, 0.4)
"""Bounds of the five classes of the heat line [mm]: how far the shape lies from what was captured."""
LOST = 0.8
"""A loop of which more than this share is left out goes as a whole [-]."""


def photographed(context: JobContext, entry: PartEntry, source: sources.PhotoSource, report: Report) -> Made:
    """Read photos and fit the outline [mm]."""
    from platewright.pattern.capture.photo import PhotoOptions, read_photo

    where = f"parts.{context.job.parts.index(entry)}.source"
    options = PhotoOptions(
        thickness=parse(source.template, unit="mm", where=f"{where}.template"), cards_on=source.cards_on,
        bars=_bars(source.bars, f"{where}.bars"),
        click=source.click, painted=tuple(source.painted) or None, holes=source.holes,
    )  # fmt: skip
    images = [context.shop.file(sha) for sha in source.files]
    captured = read_photo(images, options=options, progress=lambda done, text: report(0.9 * done, text))
    report(0.92, "fitting lines and arcs")
    return _fitted(context, entry, source, captured, f"photo {source.name}".strip())


def _bars(texts: tuple[str, str], where: str) -> tuple[float, float] | None:
    """Return the measured check bars across and up [mm]; None if neither was measured.

    Raises
    ------
    InputError
        If one is missing, or is so far off that something else was measured.
    """
    from platewright.pattern.capture.photo import BARS

    if not any(text.strip() for text in texts):
        return None
    read = []
    for n, (text, true) in enumerate(zip(texts, BARS, strict=True)):
        if not text.strip():
            raise InputError(
                "Only one of the two check bars is given.",
                where=f"{where}.{n}",
                do="Measure this one too, or clear both.",
            )
        length = parse(text, unit="mm", where=f"{where}.{n}")
        if not 0.9 * true <= length <= 1.1 * true:
            raise InputError(
                f"This bar is said to measure {length:g} mm.",
                where=f"{where}.{n}",
                allowed=f"{0.9 * true:g} to {1.1 * true:g} mm",
                do=f"Printed true it measures {true:g} mm; print again if it does not come near.",
            )
        read.append(length)
    return read[0], read[1]


def scanned(context: JobContext, entry: PartEntry, source: sources.ScanSource, report: Report) -> Made:
    """Read a flatbed scan and fit the outline [mm]."""
    from platewright.pattern.capture.scan import ScanOptions, read_scan

    report(0.1, "reading the scan")
    where = f"parts.{context.job.parts.index(entry)}.source"
    dpi = None if source.dpi is None else (source.dpi, source.dpi)
    options = ScanOptions(dpi=dpi, bars=_bars(source.bars, f"{where}.bars"))
    captured = read_scan(context.shop.file(source.file), options=options)
    return _fitted(context, entry, source, captured, f"scan {source.name}".strip())


def traced(context: JobContext, entry: PartEntry, source: sources.PointsSource, report: Report) -> Made:
    """Read traced or typed points and fit the outline [mm]."""
    from platewright.pattern.points import PointsOptions, read_points

    report(0.1, "reading the points")
    captured = read_points(
        context.shop.file(source.file),
        options=PointsOptions(unit=source.unit or None),
        where=source.name or "points",
    )
    return _fitted(context, entry, source, captured, f"points {source.name}".strip())


def drawn_file(context: JobContext, entry: PartEntry, source: sources.DrawingSource) -> Made:
    """Read a drawing file; its biggest shape is the part [mm]."""
    from platewright.part.ops.steps import from_profile
    from platewright.pattern.drawing.read import read_drawing

    info = context.shop.file_info(source.file)
    name = source.name or info.name
    where = f"parts.{context.job.parts.index(entry)}.source"
    gap = _gap(source.gap, where)
    drawn = read_drawing(context.shop.file(source.file), name, units=source.unit or None, gap=gap)
    if not drawn.profiles:
        raise InputError(
            "There is no closed shape in this drawing.",
            where=source.name,
            do="Close the outline and save again, or let wider gaps be joined.",
        )
    profile = max(drawn.profiles, key=lambda p: p.area())
    lines, findings = _drawn_marks(drawn, source, name, where)
    part = from_profile(profile, name=entry.name, thickness=1.0, marks=lines, came_from=f"drawing {name}")
    more = [number("shapes in the drawing", str(len(drawn.profiles))), number("unit", drawn.units)]
    made = part_result(part, f"drawing {name}", findings, numbers=more)
    return replace(made, data={**made.data, "texts": [m.text for m in drawn.marks if m.text]})


GAP = 0.5
"""How far ends may be apart to be joined where nothing is said [mm]."""
MOST_GAP = 50.0
"""Widest gap that is joined [mm]: beyond it the line is another one."""


def _gap(text: str, where: str) -> float:
    gap = parse(text, unit="mm", where=f"{where}.gap") if text.strip() else GAP
    if not 0 <= gap <= MOST_GAP:
        raise InputError(
            f"A gap of {gap:g} mm is not joined.", where=f"{where}.gap", allowed=f"0 mm to {MOST_GAP:g} mm"
        )
    return gap


TEXT_HEIGHT = 8.0
"""Height of burned letters where neither the job nor the drawing says one [mm]; common practice: easily read, and no cell
so small that it melts shut."""


def _drawn_marks(
    drawn: Drawn, source: sources.DrawingSource, name: str, where: str
) -> tuple[list[Mark], list[Finding]]:
    """Return the marks a drawing's lines, points and text make, and what is told: text nobody decided on is listed [mm]."""
    from platewright.part.model import Mark
    from platewright.part.strokes import strokes, width

    marks = [Mark("etch", m.contour, m.at, m.text) for m in drawn.marks if not m.text]
    texts = [m for m in drawn.marks if m.text and m.at is not None]
    findings = [f for f in drawn.findings if f.code != "G001" or source.open_lines == "tell"]
    typed = source.text_height.strip()
    for one in texts:
        x, y = one.at or (0.0, 0.0)
        if source.texts == "mark":
            height = (
                parse(typed, unit="mm", where=f"{where}.text_height") if typed else one.height or TEXT_HEIGHT
            )
            if not 1 <= height <= 500:
                raise InputError(
                    f"Letters {height:g} mm high are not burned.",
                    where=f"{where}.text_height",
                    allowed="1 mm to 500 mm",
                )
            across, up = one.anchor[0] * width(one.text, height), one.anchor[1] * height
            cos, sin = math.cos(one.angle), math.sin(one.angle)
            x, y = x - across * cos + up * sin, y - across * sin - up * cos
            with beside(f"{where}.texts"):
                lines = strokes(one.text, x=x, y=y, height=height, angle=one.angle)
            marks += [Mark("etch", line, text=one.text) for line in lines]
        elif source.texts != "leave":
            marks.append(Mark("print", None, (x, y), one.text))
    if texts and not source.texts:
        words = ", ".join(f"'{m.text[:30]}'" for m in texts[:8]) + (", …" if len(texts) > 8 else "")
        findings.append(finding("D008", place=texts[0].at, subject=name, count=len(texts), texts=words))
    return marks, findings


# -- from outlines to a shape --------------------------------------------------------------------


def _fitted(
    context: JobContext, entry: PartEntry, source: sources.PhotoSource | sources.ScanSource | sources.PointsSource,
    captured: Captured, came_from: str,
) -> Made:  # fmt: skip
    from platewright.part.ops.steps import from_profile
    from platewright.pattern.shape import ShapeOptions, to_profile

    pictures, image = kept_picture(context, captured)
    stops = [f for f in captured.findings if f.severity == "stop"]
    anyway = getattr(source, "anyway", False)
    if captured.outer is None or (stops and not anyway):
        return _not_found(captured, image, pictures)
    cleaned = _without(captured, getattr(source, "left_out", []))
    fitting = source.fitting
    where = f"parts.{context.job.parts.index(entry)}.source.fitting"
    grid, within = (
        parse(text, unit="mm", where=f"{where}.{key}") if text.strip() else None
        for key, text in (("round_to", fitting.round_to), ("tolerance", fitting.tolerance))
    )
    options = ShapeOptions(
        round_to=grid or None, relations=fitting.relations, refuse=frozenset(fitting.refuse), anyway=anyway,
        tolerance=within,
    )  # fmt: skip
    fit = to_profile(cleaned, options=options)
    profile = _moved(fit.profile, getattr(source, "moved", []))
    high, rms, lines = _heat(cleaned, profile)
    part = from_profile(profile, name=entry.name, thickness=1.0, came_from=came_from)
    part = replace(part, moved_max=high, moved_rms=rms)
    drawn = [
        *_doubts(cleaned), profile_item(profile, "outline", ident="shape", title=entry.name), *lines,
        *_meant(fit, profile), *_handles(profile),
    ]  # fmt: skip
    contours = list(profile.contours())
    return part_result(
        part, came_from, list(fit.findings), numbers=_trust_numbers(cleaned, len(fit.relations)), files=pictures,
        data=_fit_data(fit), scene=scene(drawn, box_of(contours), image=image),
    )  # fmt: skip


def _fit_data(fit: Fitted) -> PatternData:
    relations = [cast("RelationData", r.as_dict()) for r in fit.relations]
    dimensions = [d.as_dict() for d in fit.dimensions[:400]]
    return {"relations": relations, "dimensions": dimensions}


def _trust_numbers(captured: Captured, relations: int) -> list[NumberData]:
    numbers = [number("taken as meant", str(relations))]
    trust = captured.uncertainty
    if trust is not None:
        numbers += [
            number("true to (95 %)", f"± {trust.outline:.2f} mm at the edge"),
            number("scale true to", f"± {100 * trust.scale:.2f} %"),
        ]
    return numbers


def kept_picture(context: JobContext, captured: Captured) -> tuple[list[FileData], ImageData | None]:
    """Keep the straightened picture; return it as a file and as the scene's image [mm]."""
    picture = captured.straightened
    if picture is None:
        return [], None
    kind = "jpg" if "jpeg" in picture.media else "png"
    info = context.shop.put_file(picture.data, name=f"straightened.{kind}", media=picture.media)
    width, height = picture.size[0] * picture.pitch, picture.size[1] * picture.pitch
    left, bottom = picture.origin[0] - picture.pitch / 2, picture.origin[1] - picture.pitch / 2
    image: ImageData = {
        "file": info.sha256, "x": round(left, DIGITS), "y": round(-(bottom + height), DIGITS),
        "width": round(width, DIGITS), "height": round(height, DIGITS),
    }  # fmt: skip
    return [kept_file(info, role="straightened", label="Picture from straight above")], image


def _not_found(captured: Captured, image: ImageData | None, files: list[FileData]) -> Made:
    """Return what can be shown of a reading that must not be used; the step counts as failed."""
    loops = [item([loop.contour()], "raw", ident=f"raw:{n}") for n, loop in enumerate(captured.loops())]
    stop = next((f for f in captured.findings if f.severity == "stop"), None)
    failure: FailureData = {
        "what": stop.text if stop else "No outline was found on this photo.", "where": "source", "allowed": "",
        "do": stop.do if stop else "Take it again, or draw round it by hand.",
    }  # fmt: skip
    return Made(
        summary=failure["what"],
        findings=list(captured.findings),
        scene=scene(loops, box_round(image), image=image),
        files=files,
        failure=failure,
    )


def _without(captured: Captured, smudges: list[sources.LeftOut]) -> Captured:
    """Return the capture less what lies in the places left out [mm]."""
    if not smudges:
        return captured
    outer = captured.outer
    kept = None if outer is None else _less(outer, smudges)
    if kept is None:
        raise InputError(
            "Everything that was found is left out.", where="source.left_out", do="Put a place back."
        )
    holes = tuple(h for h in (_less(hole, smudges) for hole in captured.holes) if h is not None)
    return replace(captured, outer=kept, holes=holes)


def _less(loop: Outline, smudges: list[sources.LeftOut]) -> Outline | None:
    stays = np.ones(len(loop.points), dtype=bool)
    for smudge in smudges:
        stays &= np.hypot(*(loop.points - np.array(smudge.at_mm)).T) > smudge.radius_mm
    if stays.mean() < 1 - LOST or stays.sum() < 3:
        return None
    return loop if stays.all() else replace(loop, points=loop.points[stays], sd=loop.sd[stays])


def _moved(profile: Profile, moves: list[sources.Moved]) -> Profile:
    """Return the profile with corners moved by hand; the nearest corner to each place goes [mm]."""
    rows = [np.array(c.rows) for c in profile.contours()]
    for move in moves:
        gaps = [np.hypot(*(r[:, :2] - np.array(move.at_mm)).T) for r in rows]
        loop = int(np.argmin([g.min() for g in gaps]))
        rows[loop][int(np.argmin(gaps[loop])), :2] = move.to_mm
    if not moves:
        return profile
    outer, *holes = (Contour(r) for r in rows)
    return Profile(outer, tuple(holes))


def _heat(captured: Captured, profile: Profile) -> tuple[float, float, list[Item]]:
    """Return the farthest and RMS distance of the captured points from the shape [mm], and the heat line."""
    from platewright.geometry.crossing.locate import distances

    lines: list[Item] = []
    every: list[Floats] = []
    for loop in captured.loops():
        away = np.asarray(distances(profile, loop.points))
        every.append(away)
        lines += _heat_runs(loop.points, np.digitize(away, HEAT))
    joined = np.concatenate(every)
    return float(joined.max()), float(np.sqrt(np.mean(joined**2))), lines


def _heat_runs(points: Floats, classes: NDArray[np.intp]) -> list[Item]:
    """Return runs of neighbouring points of one class as drawables, each joined to the next."""
    closed = np.vstack([points, points[:1]])
    kinds = np.append(classes, classes[0])
    starts = [0, *(np.flatnonzero(np.diff(kinds)) + 1).tolist()]
    runs: list[Item] = []
    for a, b in zip(starts, [*starts[1:], len(closed) - 1], strict=True):
        if b > a:
            spots = " ".join(f"{x:.2f} {-y:.2f}" for x, y in closed[a : b + 1])
            runs.append({"d": f"M{spots}", "kind": f"heat-{int(kinds[a])}", "id": "", "title": ""})
    return runs


def _doubts(captured: Captured) -> list[Item]:
    """Return a band along every doubtful stretch, as wide as it may be off either way [mm]."""
    from platewright.pattern.loops import normals_of

    bands: list[Item] = []
    for loop in captured.loops():
        if loop.typed:
            continue
        doubts, normals = loop.bound_95(), normals_of(loop.points)
        for index in loop.doubtful():
            reach = doubts[index, None] * normals[index]
            band = np.vstack([loop.points[index] + reach, (loop.points[index] - reach)[::-1]])
            title = f"may be up to {doubts[index].max():.1f} mm off"
            bands.append(item([Contour.from_points(band)], "doubt", ident=f"doubt:{len(bands)}", title=title))
    return bands


def _meant(fit: Fitted, profile: Profile) -> list[Item]:
    """Return every edge a relation is about, to show with it [mm]."""
    spoken = {edge for relation in fit.relations for edge in relation.edges}
    return [
        item([Contour.from_edges([edge], closed=False)], "meant", ident=f"meant:{c}:{n}")
        for c, contour in enumerate(profile.contours())
        for n, edge in enumerate(contour.edges())
        if (c, n) in spoken
    ]


def _handles(profile: Profile) -> list[Item]:
    """Return the corners that can be dragged [mm]."""
    return [
        {"d": "", "kind": "corner", "id": f"corner:{c}:{n}", "title": f"corner {n + 1}", "spot": spot_of(x, y)}
        for c, contour in enumerate(profile.contours())
        for n, (x, y) in enumerate(contour.points)
    ]  # fmt: skip
