"""Station proof: what the kept text will really cut, worked out from the text alone."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np

from platewright.shop.context import JobContext
from platewright.shop.first import rests_on
from platewright.shop.line import PER_PLATE
from platewright.shop.results import NumberData, OpenData, PieceData, ProofData, Station
from platewright.shop.scene import DIGITS, Item, SceneData, box_of, layout_items, scene
from platewright.shop.steps.common import Made, Report, kept_file, number
from platewright.units import duration

if TYPE_CHECKING:
    from platewright.geometry.contour import Floats
    from platewright.layout.model import Layout
    from platewright.proof.model import Piece, Proof

__all__ = ["make_proof", "proof_scene"]

_BEFORE = ("pattern", "part", "plate", "layout", "burn", "program")
"""Stations whose open findings stand beside the verdict."""

BANDS = (0.1, 0.2, 0.3, 0.5, 0.8)
"""Bounds of the shades of the as-cut edge [mm] off the part asked for."""


def make_proof(context: JobContext, report: Report) -> Made:
    """Prove the job's program against its layout [mm]."""
    from platewright.proof import report as paper

    report(0.1, "reading the program back")
    program, layout, proof = context.program(), context.layout(), context.proof()
    report(0.9, "drawing what is cut")
    info = context.shop.put_file(
        paper.svg(proof).encode(), name=f"{program.name}-proof.svg", media="image/svg+xml"
    )
    text = context.shop.put_file(
        paper.text(proof).encode(), name=f"{program.name}-proof.txt", media="text/plain"
    )
    files = [
        kept_file(text, role="proof-text", label="Proof, as text"),
        kept_file(info, role="proof-picture", label="Proof, as picture"),
    ]
    data: ProofData = {
        "pieces": [_piece(p) for p in proof.pieces],
        "sha256": proof.program_sha256,
        "covers": proof.covers,
        "open": _open(context),
        "rests_on": rests_on(context.job, context.facts),
    }
    return Made(
        summary=_summary(proof, len(data["open"])),
        numbers=_numbers(proof),
        findings=proof.findings,
        data=data,
        scene=proof_scene(layout, proof),
        files=files,
    )


def _open(context: JobContext) -> list[OpenData]:
    """Return what the stations before this one found and nobody has settled: the proof does not look at it again."""
    found: list[OpenData] = []
    for key in context.keys.values():
        if key.station not in _BEFORE or (key.plate != context.on and key.station in PER_PLATE):
            continue
        result = context.result(key.id)
        found += [
            {
                "station": cast("Station", key.station),
                "part": key.part,
                "severity": f["severity"],
                "text": f["text"],
            }
            for f in (result["findings"] if result else ())
            if f["severity"] in ("stop", "look")
        ]
    return found


def _summary(proof: Proof, still_open: int) -> str:
    words = {"go": "Go", "look": "Look first", "stop": "Do not cut"}
    wanted = len(proof.parts) if not callable(proof.parts) else len(proof.parts())
    before = f"; {still_open} still open from the stations before" if still_open else ""
    return f"{words[proof.verdict]}: {wanted} parts come loose, {len(proof.findings)} findings{before}"


def _value(thing: Any) -> Any:
    return thing() if callable(thing) else thing


def _numbers(proof: Proof) -> list[NumberData]:
    return [
        number("parts", str(len(_value(proof.parts)))), number("burns", str(proof.burns)),
        number("time", duration(proof.time)), number("arc on", duration(proof.arc_time)),
        number("not cut", f"{sum(length for _, length in proof.uncut):.0f} mm"),
        number("check code", proof.program_sha256[:12]),
    ]  # fmt: skip


def _piece(piece: Piece) -> PieceData:
    worst = _value(piece.worst)
    return {
        "kind": piece.kind, "name": piece.name, "placement": piece.placement, "order": piece.order, "loose_after": piece.loose_after,
        "worst_mm": None if worst is None else round(float(worst), 3),
    }  # fmt: skip


def proof_scene(layout: Layout, proof: Proof) -> SceneData:
    """Return the plate with the pieces as they will be cut, edges shaded by how far off they are [mm]."""
    items = [i for i in layout_items(layout) if i["kind"] in ("plate", "keepout")]
    placed = [i for i in layout_items(layout) if i["id"].startswith("placed:")]
    for n, piece in enumerate(proof.pieces):
        cut: Item = {
            "d": _loops([piece.outer, *piece.holes]), "kind": f"cut-{piece.kind}", "id": f"piece:{n}", "title": piece.name,
        }  # fmt: skip
        if piece.placement is not None:
            here = placed[piece.placement]
            cut = {
                **cut,
                "id": here["id"],
                "spot": here["spot"],
                "label": here["label"],
                "room_mm": here["room_mm"],
            }
        items.append(cut)
    for piece in proof.pieces:
        for deviation in piece.deviations:
            edge = slice(0, deviation.edge)
            items += _shades(deviation.points[edge], deviation.values[edge])
    return scene(items, box_of([layout.plate.profile.outer]))


def _loops(loops: list[Floats]) -> str:
    return "".join("M" + " ".join(f"{x:.2f} {-y:.2f}" for x, y in np.asarray(loop)) + "Z" for loop in loops)


def _shades(points: Floats, values: Floats) -> list[Item]:
    """Return runs of one shade along an as-cut edge; over is metal left, under is metal missing."""
    steps = np.digitize(np.abs(values), BANDS)
    marks = np.where(values < 0, -steps, steps)
    runs: list[Item] = []
    start = 0
    for i in range(1, len(points) + 1):
        if i == len(points) or marks[i] != marks[start]:
            last = min(i + 1, len(points))
            if marks[start] != 0 and last - start > 1:
                side = "under" if marks[start] < 0 else "over"
                spots = " ".join(f"{x:.{DIGITS - 1}f} {-y:.{DIGITS - 1}f}" for x, y in points[start:last])
                runs.append(
                    {"d": f"M{spots}", "kind": f"{side}-{abs(int(marks[start]))}", "id": "", "title": ""}
                )
            start = i
    return runs
