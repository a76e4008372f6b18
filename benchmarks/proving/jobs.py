"""Jobs drawn by number: parts of many families laid in rows, with what shops ask for beside; lengths in [mm]."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from platewright.burn.options import BurnOptions, TabChoice
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import Clearance, KeepOut, Layout, Placement
from platewright.part.families import make
from platewright.part.model import Mark, Part
from platewright.stock.model import Plate
from platewright.table.chart import Chart, starter_chart

__all__ = ["Drawn", "draw"]

Rng = np.random.Generator


@dataclass(frozen=True, slots=True)
class Drawn:
    """A job: what is cut, from which chart, with which choices, on which table, and what is special about it."""

    layout: Layout
    chart: Chart
    options: BurnOptions
    table: str
    about: str


def _u(rng: Rng, low: float, high: float) -> float:
    return round(float(rng.uniform(low, high)), 2)


def _hole(rng: Rng, t: float, w: float, h: float) -> Contour:
    """A hole that cuts well, round, square, slotted or a notch-cornered diamond, in a room of w by h."""
    least = max(2.2 * t, 5.0)
    size = _u(rng, least, max(least + 1, min(w, h, 5 * least)))
    match int(rng.integers(0, 4)):
        case 0 | 1:
            return Contour.circle(0, 0, size / 2)
        case 2:
            return Contour.rectangle(size * 1.3, size, x=-size * 0.65, y=-size / 2)
        case _:
            a, r = size * 0.5, size / 2
            return Contour(np.array([[-a, -r, 0], [a, -r, 1.0], [a, r, 0], [-a, r, 1.0]]))


def _plate(rng: Rng, t: float) -> Profile:
    w, h = _u(rng, 70, 150), _u(rng, 60, 120)
    hole = _hole(rng, t, w / 3, h / 3)
    return Profile(
        Contour.rectangle(w, h, radius=float(rng.choice([0, 3, 12]))), (Pose(w / 2, h / 2).apply(hole),)
    )


def _two_holes(rng: Rng, t: float) -> Profile:
    w, h = _u(rng, 110, 180), _u(rng, 60, 100)
    holes = [Pose(x, h / 2).apply(_hole(rng, t, w / 5, h / 3)) for x in (w / 4, 3 * w / 4)]
    return Profile(Contour.rectangle(w, h), tuple(holes))


def _angle(rng: Rng, t: float) -> Profile:
    a, b, w = _u(rng, 70, 140), _u(rng, 70, 140), _u(rng, 25, 45)
    return Profile(Contour.from_points([(0, 0), (a, 0), (a, w), (w, w), (w, b), (0, b)]))


def _notched(rng: Rng, t: float) -> Profile:
    """Half-round notches of small radius on one side, a square one on the other."""
    w, h = _u(rng, 80, 140), _u(rng, 60, 90)
    rows: list[list[float]] = [[0, 0, 0]]
    for x in (0.25 * w, 0.6 * w):
        r = _u(rng, 1.6, 4.5)
        rows += [[x - r, 0, -1.0], [x + r, 0, 0]]
    rows += [[w, 0, 0], [w, h, 0]]
    d, n = _u(rng, 8, 20), _u(rng, 10, 25)
    rows += [
        [w / 2 + n / 2, h, 0],
        [w / 2 + n / 2, h - d, 0],
        [w / 2 - n / 2, h - d, 0],
        [w / 2 - n / 2, h, 0],
        [0, h, 0],
    ]
    return Profile(Contour(np.array(rows)))


def _chamfered(rng: Rng, t: float) -> Profile:
    w, h, c = _u(rng, 80, 140), _u(rng, 60, 110), _u(rng, 8, 25)
    spots = [(c, 0), (w, 0), (w, h - c), (w - c, h), (0, h), (0, c)]
    hole = Pose(w / 2, h / 2, _u(rng, 0, 1.5)).apply(_hole(rng, t, w / 4, h / 4))
    return Profile(Contour.from_points(spots), (hole,))


def _ring(rng: Rng, t: float) -> Profile:
    r = _u(rng, 30, 65)
    return Profile(Contour.circle(0, 0, r), (Contour.circle(0, 0, _u(rng, 0.35, 0.65) * r),))


def _lens(rng: Rng, t: float) -> Profile:
    w, h, b = _u(rng, 70, 130), _u(rng, 40, 70), _u(rng, 0.3, 1.0)
    hole = Pose(w / 2, h / 2).apply(_hole(rng, t, w / 4, h / 3))
    return Profile(Contour(np.array([[0, 0, 0], [w, 0, b], [w, h, 0], [0, h, b]])), (hole,))


def _triangle(rng: Rng, t: float) -> Profile:
    w, h = _u(rng, 80, 140), _u(rng, 70, 120)
    return Profile(Contour.from_points([(0, 0), (w, 0), (_u(rng, 0.2, 0.5) * w, h)]))


def _family(name: str, dims: Callable[[Rng, float], dict[str, Any]]) -> Callable[[Rng, float], Profile]:
    def made(rng: Rng, t: float) -> Profile:
        return make(name, dims(rng, t), thickness=t).profile

    return made


SHAPES: tuple[Callable[[Rng, float], Profile], ...] = (
    _plate, _two_holes, _angle, _notched, _chamfered, _ring, _lens, _triangle,
    _family("gusset", lambda r, t: {"across": (s := _u(r, 70, 130)), "up": s, "nose": _u(r, 8, 15), "snipe": _u(r, 10, 20),
                                    "edge": str(r.choice(["straight", "rounded", "scalloped"]))}),
    _family("flange", lambda r, t: {"outside": _u(r, 130, 160), "bore": _u(r, 35, 50), "bolt_circle": 100, "count": int(r.integers(3, 7)),
                                    "hole": _u(r, max(2.2 * t, 6), max(2.4 * t, 14))}),
    _family("ring-segment", lambda r, t: {"outer_radius": _u(r, 100, 140), "inner_radius": _u(r, 60, 80)}),
    _family("star", lambda r, t: {"points": int(r.integers(4, 7)), "outside": _u(r, 100, 150), "inside": _u(r, 50, 70)}),
    _family("comb", lambda r, t: {"count": 3, "notch_width": _u(r, 10, 20), "notch_depth": _u(r, 15, 25), "pitch": 35, "height": 60}),
)  # fmt: skip


def _shape(rng: Rng, t: float) -> Profile:
    while True:
        try:
            return SHAPES[int(rng.integers(len(SHAPES)))](rng, t)
        except ValueError:
            continue


def _chart(rng: Rng) -> tuple[Chart, str]:
    """The starter chart as if the shop had measured it, with one kerf or with three; its rows as they are in one job of five."""
    chart = starter_chart()
    if rng.random() < 0.2:
        return chart, "starter rows"
    measured = [replace(r, starting_point=False, kerf_hole=0.0, kerf_slow=0.0) for r in chart.rows]
    if rng.random() < 0.25:
        hole, slow = _u(rng, 1.0, 1.1), _u(rng, 1.05, 1.2)
        measured = [replace(r, kerf_hole=r.kerf * hole, kerf_slow=r.kerf * slow) for r in measured]
        return replace(chart, rows=tuple(measured)), "wider slow kerf"
    return replace(chart, rows=tuple(measured)), ""


@dataclass(slots=True)
class _Bed:
    """Parts set down from left to right in rows, far enough in that a marking tool beside the torch reaches them."""

    width: float
    x: float = 70.0
    y: float = 20.0
    top: float = 0.0

    def spot(self, w: float, h: float, gap: float) -> tuple[float, float]:
        if self.x + w > self.width - 20:
            self.x, self.y, self.top = 70.0, self.y + self.top + gap, 0.0
        at = self.x, self.y
        self.x, self.top = self.x + w + gap, max(self.top, h)
        return at


def draw(seed: int, number: int, *, parts: tuple[int, int] = (2, 5)) -> Drawn:
    """Draw job `number` of a seed [-] with a number of kinds of parts between two bounds [-]."""
    rng = np.random.default_rng([seed, number])
    t = float(rng.choice([1.5, 3.0, 4.0, 6.0, 8.0, 10.0]))
    grade = str(rng.choice(["mild steel", "mild steel", "mild steel", "stainless", "aluminium"]))
    chart, said = _chart(rng)
    bed, gap = _Bed(650.0), max(20.0, 4 * t)
    kinds, places = list[Part](), list[Placement]()

    def add(
        profile: Profile,
        name: str,
        *,
        mirrored: bool = False,
        angle: float = 0.0,
        marks: tuple[Mark, ...] = (),
    ) -> Pose:
        if not (kinds and kinds[-1].profile is profile):
            kinds.append(Part(name=name, profile=profile, thickness=t, grade=grade, marks=marks))
        b = Pose(0, 0, angle, mirrored).apply(profile).bounds()
        x, y = bed.spot(b.width, b.height, gap)
        pose = Pose(x - b.x0, y - b.y0, angle, mirrored)
        copy = 1 + sum(p.part == len(kinds) - 1 for p in places)
        places.append(Placement(len(kinds) - 1, pose, copy))
        return pose

    about = [said] if said else []
    for k in range(int(rng.integers(*parts))):
        profile = _shape(rng, t)
        b = profile.bounds()
        marks: tuple[Mark, ...] = ()
        if rng.random() < 0.15:
            marks = (Mark("centre", at=((b.x0 + b.x1) / 2 + 9, b.y0 + 12.0)),)
            about.append("mark")
        angle = float(rng.choice([0.0, 0.0, _u(rng, 0, 6.28)]))
        add(profile, f"part {k + 1}", angle=angle, marks=marks)
        if rng.random() < 0.2:
            add(profile, f"part {k + 1}", mirrored=True, angle=angle)
            about.append("other hand")
    if rng.random() < 0.25:
        r = _u(rng, 45, 70)
        outer = Profile(Contour.circle(0, 0, r), (Contour.circle(0, 0, 0.72 * r),))
        pose = add(outer, "ring")
        if 0.72 * r - gap > max(10, 2 * t):
            kinds.append(
                Part(
                    name="disc",
                    profile=Profile(Contour.circle(0, 0, 0.72 * r - gap)),
                    thickness=t,
                    grade=grade,
                )
            )
            places.append(Placement(len(kinds) - 1, pose, 1))
            about.append("disc in a ring")
    options, shared = _options(rng, about)
    row = chart.row(grade, t, options.amperage).row
    if shared:
        _pair(rng, kinds, places, bed, gap, (t, grade, row.kerf))
        about.append("common line")
    layout = _plate_of(rng, kinds, places, bed, (t, grade), about)
    layout = replace(layout, burn=options.as_dict())
    table = str(rng.choice(["long gantry", "small gantry"]))
    return Drawn(layout, chart, options, table, ", ".join(dict.fromkeys(about)) or "plain")


def _pair(
    rng: Rng,
    kinds: list[Part],
    places: list[Placement],
    bed: _Bed,
    gap: float,
    stock: tuple[float, str, float],
) -> None:
    """Two rectangles a kerf apart."""
    t, grade, kerf = stock
    w, h = _u(rng, 60, 100), _u(rng, 60, 100)
    x, y = bed.spot(2 * w + kerf, h, gap)
    kinds.append(Part(name="half", profile=Profile(Contour.rectangle(w, h)), thickness=t, grade=grade))
    places += [Placement(len(kinds) - 1, Pose(x, y), 1), Placement(len(kinds) - 1, Pose(x + w + kerf, y), 2)]


def _options(rng: Rng, about: list[str]) -> tuple[BurnOptions, bool]:
    """What the shop chose; whether two parts share a line."""
    chosen: dict[str, Any] = {"effort": 0.0}
    shared = False
    match int(rng.integers(0, 14)):
        case 0 | 1:
            chosen |= {
                "tab_below": _u(rng, 80, 250),
                "tabs": TabChoice(int(rng.integers(1, 4)), float(rng.choice([0.0, 2.0, 4.0]))),
            }
            about.append("tabs")
        case 2:
            chosen["chain"] = True
            about.append("chain")
        case 3:
            chosen["common_line"] = shared = True
        case 4:
            chosen["corner_loops"] = True
            about.append("corner loops")
        case 5:
            chosen["round_inside"] = _u(rng, 1, 4)
            about.append("inside corners rounded")
        case 6:
            chosen |= {"lead": str(rng.choice(["straight", "arc"])), "overburn": _u(rng, 0, 5)}
            about.append("lead and overburn")
        case 7:
            chosen["mark_below"] = _u(rng, 10, 18)
            about.append("holes to drill")
        case _:
            pass
    return BurnOptions(**chosen), shared


def _plate_of(
    rng: Rng,
    kinds: list[Part],
    places: list[Placement],
    bed: _Bed,
    stock: tuple[float, str],
    about: list[str],
) -> Layout:
    """The plate round the parts: a sheet or a drop with old holes, with magnets and clamps, sometimes lying askew."""
    import shapely

    t, grade = stock
    high = bed.y + bed.top + 20
    solid = shapely.union_all(
        [
            shapely.box(b.x0, b.y0, b.x1, b.y1)
            for p in places
            for b in [p.pose.apply(kinds[p.part].profile).bounds()]
        ]
    )
    holes, keepouts = list[Contour](), list[KeepOut]()
    for k in range(6):
        x, y, r = _u(rng, 25, 625), _u(rng, 25, max(26, high - 25)), _u(rng, 5, 14)
        near = solid.distance(shapely.Point(x, y)) - r
        if near < 16 + 2 * t:
            continue
        if k % 2:
            keepouts.append(
                KeepOut(f"magnet {k}", Contour.circle(x, y, r), float(rng.choice([0, 15, 30, 45])))
            )
            about.append("keep-out")
        else:
            holes.append(Contour.circle(x, y, r))
            about.append("old hole")
        solid = solid.union(shapely.Point(x, y).buffer(r))
    profile = Profile(Contour.rectangle(650, high), tuple(holes))
    seat = Pose()
    if rng.random() < 0.2:
        seat = Pose(60, 40, _u(rng, -0.06, 0.06))
        about.append("askew")
    plate = Plate(
        name="drop" if holes else "sheet",
        profile=seat.apply(profile),
        thickness=t,
        grade=grade,
        kind="drop" if holes else "sheet",
    )
    moved = tuple(replace(p, pose=_after(seat, p.pose)) for p in places)
    kept = tuple(replace(k, contour=seat.apply(k.contour)) for k in keepouts)
    return Layout(plate=plate, parts=tuple(kinds), placements=moved, keepouts=kept, clearance=Clearance())


def _after(seat: Pose, pose: Pose) -> Pose:
    """The pose of a part on a plate that lies at `seat`."""
    c, s = math.cos(seat.angle), math.sin(seat.angle)
    x, y = seat.x + c * pose.x - s * pose.y, seat.y + s * pose.x + c * pose.y
    return Pose(x, y, pose.angle + seat.angle, pose.mirrored)
