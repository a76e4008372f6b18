"""The check on screen and on paper: the difference as a picture in millimetres, and a report a customer can read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import groupby

import numpy as np

from platewright.geometry import Floats, Profile
from platewright.paper.flow import MARGIN, Flow
from platewright.paper.ink import Ink
from platewright.paper.pages import page
from platewright.part.svg_path import paths_data
from platewright.tuning.check import OVAL_KNOWN, Check
from platewright.tuning.faces import Lean, kept_text, sides_named, way_of
from platewright.units import show

__all__ = ["ReportOptions", "difference", "lean_lines", "lines_of", "report"]

BIGGER = 20.0
"""The difference is drawn so many times its size [-]."""
MOST = 0.6
"""A difference is drawn no further off than this [mm]."""
FULL = 0.5
"""A difference of this much has its full colour [mm]."""
OVER, UNDER, EVEN = (166, 60, 6), (23, 58, 122), (120, 125, 130)


def _shade(value: float) -> tuple[int, int, int]:
    share = min(1.0, abs(value) / FULL)
    end = OVER if value > 0 else UNDER
    return tuple(round(e + (f - e) * share) for e, f in zip(EVEN, end, strict=True))  # type: ignore[return-value]


def _runs(found: Check) -> list[tuple[tuple[int, int, int], Floats]]:
    """Return the measured outline in runs of one colour, drawn `BIGGER` times off the part's own; nothing where the photo does not tell [mm]."""
    order = np.arange(len(found.off))
    drawn = found.places + found.normals * (np.clip(found.off, -MOST, MOST) * BIGGER)[:, None]
    gap = np.hypot(*np.diff(found.places, axis=0, prepend=found.places[:1]).T) > 3.0
    gap |= np.diff(found.certain, prepend=True)
    loop = np.cumsum(gap)
    keys = [
        (int(loop[k]), bool(found.certain[k]), _shade(round(float(found.off[k]) / 0.05) * 0.05))
        for k in order
    ]
    runs = []
    for (_, certain, colour), group in groupby(order, key=lambda k: keys[k]):
        at = list(group)
        if not certain:
            continue
        runs.append(
            (
                colour,
                drawn[at[0] : at[-1] + 2 if at[-1] + 1 < len(order) and not gap[at[-1] + 1] else at[-1] + 1],
            )
        )
    return [(c, p) for c, p in runs if len(p) > 1]


def difference(found: Check, profile: Profile) -> str:
    """Return the part asked for, and what was cut drawn twenty times as far off it as it is, as SVG [mm]."""
    box = profile.bounds()
    size = max(box.width, box.height)
    pad = 0.12 * size
    thin, text = size / 400, (box.width + 2 * pad) / 62
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="760" viewBox="{box.x0 - pad:g} {-box.y1 - pad:g} {box.width + 2 * pad:g} {box.height + 2.4 * pad:g}" font-family="sans-serif">',
        "<title>Cut against asked</title>",
        f'<path d="{paths_data(profile.contours(), digits=3)}" fill="#eef1f3" fill-rule="evenodd" stroke="#14181d" stroke-width="{thin:.3g}"/>',
    ]
    for colour, points in _runs(found):
        way = " ".join(f"{x:.2f} {-y:.2f}" for x, y in points)
        out.append(f'<path d="M{way}" fill="none" stroke="rgb{colour}" stroke-width="{3 * thin:.3g}"/>')
    sentences = (
        f"Coloured: as cut, {BIGGER:.0f} times as far off. Rust: metal too much; blue: metal gone.",
        f"Full colour at {FULL:g} mm. Nothing drawn: the photo cannot tell there.",
    )
    for k, line in enumerate(sentences):
        low = -box.y0 + 0.8 * pad + 1.4 * k * text
        out.append(
            f'<text x="{box.x0:g}" y="{low:g}" font-size="{text:.3g}" fill="#14181d">{escape(line)}</text>'
        )
    return "\n".join([*out, "</svg>"]) + "\n"


def lines_of(found: Check, *, kerf: float | None = None, unit: str = "mm") -> list[str]:
    """Return what the photo says in sentences, sizes in a unit [mm or in]; with the kerf planned with [mm], the new one too."""
    digits = 3 if unit == "in" else 2

    def pm(value: float, spread: float | None) -> str:
        return f"{show(value, unit, digits=digits)} ± {show(spread or 0.0, unit, digits=digits)}"

    new = (
        ""
        if kerf is None
        else f": it was planned with {show(kerf, unit, digits=digits)}, so {pm(kerf + found.kerf.value, found.kerf.spread)}"
    )
    lines = [
        f"Kerf error {pm(found.kerf.value, found.kerf.spread)} (above 0 is wider){new}.",
        f"Along X {1000 * found.x.value:+.2f} ± {1000 * (found.x.spread or 0):.2f} mm in a metre, along Y {1000 * found.y.value:+.2f} ± {1000 * (found.y.spread or 0):.2f}, out of square {1000 * found.skew.value:+.2f} ± {1000 * (found.skew.spread or 0):.2f}.",
    ]
    lines += [
        f"Hole asked {show(h.nominal, unit, digits=digits)}: {pm(h.measured.value, h.measured.spread)}, "
        + (
            f"out of round {pm(h.oval.value, h.oval.spread)}."
            if (h.oval.spread or 0) <= OVAL_KNOWN
            else "how round is not known."
        )
        for h in found.holes
    ]
    lines.append(f"Not explained by these: {show(found.rest, unit, digits=digits)} (RMS).")
    return lines


def lean_lines(leans: Sequence[Lean], *, unit: str = "mm") -> list[str]:
    """Return how the edges lean in sentences, by photos of both faces, sizes in a unit [mm or in]."""
    digits = 3 if unit == "in" else 2
    lines = []
    for lean in leans:
        slope, spread = show(abs(lean.slope.value), unit, digits=digits), lean.slope.spread or 0.0
        way = way_of(lean.slope.value) if abs(lean.slope.value) > spread else "not surely leaning"
        name = sides_named(lean.name)
        lines.append(
            f"{name[0].upper()}{name[1:]}: {slope} ± {show(spread, unit, digits=digits)} over the thickness, {way}; u of ISO 9013:2017: {kept_text(lean)}."
        )
    return lines


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportOptions:
    """Name of the part, paper, unit ("mm" or "in"), day, shop's name, the photo's file, and how the edges lean where both faces were photographed."""

    name: str
    paper: str = "letter"
    unit: str = "mm"
    day: str = ""
    shop: str = ""
    photo: str = ""
    leans: tuple[Lean, ...] = ()


def report(found: Check, profile: Profile, options: ReportOptions) -> bytes:
    """Return the report as PDF: sizes with their uncertainty, classes met or not, the difference as a picture [mm or in]."""
    ink = Ink(page(options.paper), f"check of {options.name}")

    def head(on: Ink, number: int) -> float:
        top = on.page.height - MARGIN
        on.text(MARGIN, top - 5, f"Check: {options.name}", size=5.0, bold=True)
        on.text(
            on.page.width - MARGIN,
            top - 5,
            " ".join(w for w in (options.shop, options.day) if w),
            size=3.0,
            align="right",
        )
        return top - 9

    flow = Flow(ink, head=head, foot=f"Check: {options.name}")
    flow.words(
        f"Measured by photo, from above{' and below' if options.leans else ''}, uncertainty stated at 95 %{f', from {options.photo}' if options.photo else ''}. It stands in for a"
        " measurement with a caliper; where a size decides something, measure it."
    )
    flow.title("Sizes")
    digits = 3 if options.unit == "in" else 2
    rows: list[Sequence[str]] = []
    for size in found.sizes:
        value, spread = size.measured.value, size.measured.spread or 0.0
        rows.append([
            size.name, show(size.nominal, options.unit, digits=digits), f"{show(value, options.unit, digits=digits)} ± {show(spread, options.unit, digits=digits)}",
            "; ".join(f"{label}: {met}" for label, met in size.classes),
        ])  # fmt: skip
    flow.table(["size", "asked", "measured (95 %)", "class met"], rows, widths=[2.0, 2.0, 3.5, 8.0])
    flow.words(
        "A class is met if it is met even with the uncertainty added, not met if not even with it taken off (decision rule of ISO 14253-1, from memory). Limits: ISO 9013:2017 and ISO 2768-1:1989.",
        size=2.5,
        soft=True,
    )
    flow.title("What it says of the cutting")
    for line in (*lines_of(found, unit=options.unit), *lean_lines(options.leans, unit=options.unit)):
        flow.words(line)
    for f in found.findings:
        flow.words(f"{f.code} {f.text} {f.do}", size=2.6, soft=True)
    _picture(flow, found, profile)
    return ink.bytes()  # fmt: skip


def _picture(flow: Flow, found: Check, profile: Profile) -> None:
    """Draw the difference across the page [mm]."""
    box = profile.bounds()
    scale = min(0.8 * flow.width / box.width, 68.0 / box.height)
    # drawn out to so far beyond the part
    beyond = MOST * BIGGER * scale
    flow.need(box.height * scale + 2 * beyond + 26)
    flow.title(f"Difference, {BIGGER:.0f} times as far off as it is")
    ink = flow.ink
    low = flow.y - box.height * scale - beyond - 4
    ink.push(
        x=flow.left + (flow.width - box.width * scale) / 2 - box.x0 * scale,
        y=low - box.y0 * scale,
        scale=(scale, scale),
    )
    ink.pen(0.2 / scale)
    ink.profile(profile, fill=(0.93, 0.945, 0.953))
    for colour, points in _runs(found):
        ink.pen(0.5 / scale, colour=[c / 255 for c in colour])
        for (x0, y0), (x1, y1) in zip(points[:-1].tolist(), points[1:].tolist(), strict=True):
            ink.line(x0, y0, x1, y1)
    ink.pop()
    flow.y = low - beyond - 2
    flow.words(
        f"Rust: metal too much. Blue: metal gone. Full colour at {FULL:g} mm. Nothing drawn: the photo cannot tell there.", size=2.6, soft=True
    )  # fmt: skip
