"""Random layouts, and a checker of plans that shares no code with the planner: own arc sampling, plain shapely."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import shapely

from platewright.burn.model import BurnPlan
from platewright.geometry import Contour, Pose, Profile
from platewright.layout.model import KeepOut, Layout, Placement
from platewright.part.model import Part
from platewright.stock.model import Plate


def sampled(rows: np.ndarray, *, step: float = 0.25) -> np.ndarray:
    """Sample an open chain of (x, y, bulge) densely, from the definition of the bulge alone."""
    out = [rows[0, :2]]
    for (x0, y0, bulge), (x1, y1, _) in itertools.pairwise(rows):
        a, b = np.array([x0, y0]), np.array([x1, y1])
        chord = math.dist(a, b)
        if abs(bulge) < 1e-12 or chord < 1e-12:
            out.append(b)
            continue
        quarter = math.atan(bulge)
        radius = chord / (2 * math.sin(2 * abs(quarter)))
        middle = (a + b) / 2
        normal = np.array([-(b - a)[1], (b - a)[0]]) / chord
        centre = middle + normal * radius * math.cos(2 * abs(quarter)) * math.copysign(1, bulge)
        pieces = max(4, math.ceil(radius * 4 * abs(quarter) / step))
        start = math.atan2(*(a - centre)[::-1])
        for k in range(1, pieces):
            turn = start + 4 * quarter * k / pieces
            out.append(centre + radius * np.array([math.cos(turn), math.sin(turn)]))
        out.append(b)
    return np.array(out)


def ring(contour: Contour) -> np.ndarray:
    rows = np.vstack([contour.rows, [*contour.rows[0, :2], 0.0]])
    return sampled(rows)


def metal(profile: Profile) -> shapely.Polygon:
    return shapely.Polygon(ring(profile.outer), [ring(h) for h in profile.holes])


@dataclass
class Trouble:
    cut: int
    what: str


def troubles(plan: BurnPlan, *, slack: float = 0.05) -> list[Trouble]:
    """List every wrong of the leads and paths of a plan, judged from its paths and the layout only."""
    found: list[Trouble] = []
    layout = plan.layout
    parts = [metal(profile) for _, _, profile in layout.placed()]
    plate = metal(layout.plate.profile)
    keepouts = [shapely.Polygon(ring(k.contour)) for k in layout.keepouts]
    leads = []
    for number, cut in enumerate(plan.cuts):
        if cut.kind == "mark":
            continue
        whole = shapely.LineString(sampled(cut.path.rows))
        lead = shapely.LineString(sampled(cut.path.rows[: cut.lead_edges + 1]))
        out = shapely.LineString(sampled(cut.path.rows[-cut.exit_edges - 1 :])) if cut.exit_edges else lead
        pierce = shapely.Point(cut.path.rows[0, :2])
        kerf, splash = cut.kerf, cut.kerf / 2 + max(1.0, plan.row.thickness / 4)
        for index, part in enumerate(parts):
            if whole.distance(part) < kerf / 2 - slack:
                found.append(Trouble(number, f"the kerf eats into placement {index}"))
            if pierce.distance(part) < splash - slack:
                found.append(Trouble(number, f"the pierce splashes placement {index}"))
            if index != cut.placement and lead.distance(part) < kerf - slack:
                found.append(Trouble(number, f"the lead runs in the kerf of placement {index}"))
        if any(whole.distance(k) < kerf / 2 - slack or pierce.distance(k) < splash - slack for k in keepouts):
            found.append(Trouble(number, "a keep-out is touched"))
        if not plate.contains(lead) or plate.boundary.distance(pierce) < splash - slack:
            found.append(Trouble(number, "the pierce is at the plate's edge"))
        if plate.boundary.distance(lead) < kerf / 2:
            found.append(Trouble(number, "the lead runs into the plate's edge"))
        leads.append((number, lead, out, pierce, splash, kerf))
    for i, (number, lead, out, pierce, splash, kerf) in enumerate(leads):
        for other, lead2, out2, pierce2, _, _ in leads[:i]:
            if min(lead.distance(lead2), lead.distance(out2), out.distance(lead2)) < kerf - slack:
                found.append(Trouble(number, f"the lead meets the lead of cut {other}"))
            if min(pierce.distance(lead2), pierce2.distance(lead)) < splash - slack:
                found.append(Trouble(number, f"a pierce is within splash of the lead of cut {other}"))
    return found


def uncut(plan: BurnPlan) -> list[tuple[int, int]]:
    """List contours that are neither cut nor spoken of by a stop finding."""
    cut = {(c.placement, c.contour) for c in plan.cuts if c.kind != "mark"}
    cut |= {pair for c in plan.cuts for pair in c.also}
    said = {f.subject for f in plan.findings if f.severity == "stop"}
    missing = []
    for index, placement in enumerate(plan.layout.placements):
        label = plan.layout.label(index)
        for number in range(1 + len(plan.layout.parts[placement.part].profile.holes)):
            subject = f"{label}, {'outside' if number == 0 else f'hole {number}'}"
            if (index, number) not in cut and subject not in said:
                missing.append((index, number))
    return missing


def out_of_order(plan: BurnPlan) -> list[str]:
    """List cuts that come after something they should precede."""
    when = {(c.placement, c.contour): i for i, c in enumerate(plan.cuts) if c.kind != "mark"}
    found = []
    last_mark = max((i for i, c in enumerate(plan.cuts) if c.kind == "mark"), default=-1)
    if any(i < last_mark for i in when.values()):
        found.append("a cut before a mark")
    placed = [profile for _, _, profile in plan.layout.placed()]
    for (placement, contour), i in when.items():
        if contour and i > when.get((placement, 0), 10**9):
            found.append(f"hole {contour} of {placement} after its outside")
        if contour:
            continue
        spot = shapely.Point(placed[placement].outer.rows[0, :2])
        for other, profile in enumerate(placed):
            for number, hole in enumerate(profile.holes, 1):
                inside = other != placement and shapely.Polygon(ring(hole)).contains(spot)
                if inside and i > when.get((other, number), 10**9):
                    found.append(f"placement {placement} after the hole of {other} it lies in")
    return found


def _shape(draw: np.random.Generator) -> Profile:
    width, height = draw.uniform(30, 110, 2)
    kind = draw.integers(0, 5)
    holes = []
    if kind == 0:
        outer = Contour.rectangle(width, height, radius=float(draw.choice([0.0, 5.0])))
    elif kind == 1:
        outer = Contour.circle(width / 2, width / 2, width / 2)
        height = width
    elif kind == 2:
        leg = 0.4 * min(width, height)
        outer = Contour.from_points(
            [(0, 0), (width, 0), (width, leg), (leg, leg), (leg, height), (0, height)]
        )
        return Profile(outer, (Contour.circle(leg / 2, leg / 2, leg / 4),))
    elif kind == 3:
        angles = np.sort(draw.uniform(0, 2 * math.pi, 7)) + np.linspace(0, 0.3, 7)
        radius = draw.uniform(0.5, 1.0, 7) * 40
        outer = Contour.from_points(np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]))
        if not shapely.Polygon(outer.points).is_valid:
            outer = Contour.circle(0, 0, 35)
        return Profile(outer)
    else:
        return Profile(
            Contour.rectangle(130, 110),
            (Contour.rectangle(90, 70, x=20, y=20), Contour.circle(10, 10, 5), Contour.circle(120, 100, 5)),
        )
    for _ in range(int(draw.integers(0, 4))):
        radius = draw.uniform(3.5, 8.0)
        x, y = draw.uniform(0.3, 0.7) * width, draw.uniform(0.3, 0.7) * height
        if not any(math.hypot(x - hx, y - hy) < radius + hr + 4 for hx, hy, hr in holes):
            holes.append((x, y, radius))
    return Profile(outer, tuple(Contour.circle(*h) for h in holes))


def random_layout(seed: int, *, thickness: float = 6.0) -> Layout:
    """Place random parts in rows with a random gap, some inside holes of others, with random keep-outs between."""
    draw = np.random.default_rng(seed)
    gap = float(draw.choice([2.2, 3.5, 5.0, 8.0, 12.0]))
    parts, placements, keepouts = [], [], []
    x = y = gap + 2.0
    tallest = 0.0
    for k in range(int(draw.integers(3, 9))):
        profile = _shape(draw)
        turned = Pose(0, 0, float(draw.uniform(0, 2 * math.pi)), bool(draw.integers(0, 2))).apply(profile)
        box = metal(turned).bounds
        if x + box[2] - box[0] > 480:
            x, y, tallest = gap + 2.0, y + tallest + gap, 0.0
        if draw.random() < 0.15:
            keepouts.append(KeepOut("magnet", Contour.rectangle(15, 15, x=x + 1, y=y)))
            x += 15 + 2 * gap
        pose = Pose(x - box[0], y - box[1])
        parts.append(Part(name=f"part {k}", profile=turned, thickness=thickness))
        placements.append(Placement(k, pose))
        if len(profile.holes) == 3 and profile.holes[0].rows.shape[0] == 4:
            middle = metal(pose.apply(turned)).envelope.centroid
            parts.append(
                Part(
                    name=f"inner {k}",
                    profile=Profile(Contour.circle(0, 0, float(draw.uniform(12, 28)))),
                    thickness=thickness,
                )
            )
            placements.append(Placement(len(parts) - 1, Pose(middle.x, middle.y)))
        x += box[2] - box[0] + gap
        tallest = max(tallest, box[3] - box[1])
    # placements name their part by index, which the inner parts have shifted
    named = {p.name: i for i, p in enumerate(parts)}
    fixed = [Placement(named[part.name], p.pose) for p, part in zip(placements, parts, strict=True)]
    plate = Plate.sheet("sheet", 500, max(300.0, y + tallest + gap + 2), thickness)
    return Layout(plate=plate, parts=tuple(parts), placements=tuple(fixed), keepouts=tuple(keepouts))
