"""Options of `read` for silhouettes, and the part made of one."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from platewright.cli.common import read_bytes
from platewright.units import parse

if TYPE_CHECKING:
    from platewright.findings import Finding
    from platewright.part.model import Part

__all__ = ["add_options", "from_picture"]


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of a silhouette (no numbers with units [-])."""
    one = parser.add_argument_group("silhouettes")
    one.add_argument(
        "--silhouette", metavar="WIDTH", help="make the picture a silhouette this wide: '300 mm'"
    )
    one.add_argument(
        "--level",
        type=float,
        metavar="N",
        help="0 to 100: from which difference on it is metal (default: found)",
    )
    one.add_argument("--invert", action="store_true", help="the background is the metal")
    one.add_argument(
        "--smooth",
        default="0.3 mm",
        metavar="LENGTH",
        help="how far the outline may be from the picture's edge",
    )
    one.add_argument("--smallest", default="3 mm", metavar="LENGTH", help="smallest detail that is kept")
    one.add_argument("--fill", action="store_true", help="fill holes")
    one.add_argument(
        "--keep",
        choices=("largest", "joined"),
        default="largest",
        help="the largest piece, or all pieces joined by strips",
    )
    one.add_argument(
        "--kerf",
        default="1.5 mm",
        metavar="LENGTH",
        help="width of the cut: thin places are made wider for it",
    )
    one.add_argument(
        "--thin",
        choices=("thin places", "leave"),
        default="thin places",
        help="what is done about thin places",
    )


def from_picture(args: argparse.Namespace, *, name: str, thickness: float) -> tuple[Part, list[Finding], str]:
    """Return the part of a silhouette [mm], what was found, and a sentence on its nodes."""
    from platewright.part.ops.steps import from_profile
    from platewright.pattern.letters.cut import Making, mended
    from platewright.pattern.silhouette import SilhouetteOptions, silhouette

    making = Making(thickness, parse(args.kerf, where="--kerf"), mend=args.thin)
    options = SilhouetteOptions(
        width=parse(args.silhouette, where="--silhouette"), level=args.level, invert=args.invert,
        smooth=parse(args.smooth, where="--smooth"), smallest=parse(args.smallest, where="--smallest"),
        fill=args.fill, keep=args.keep, web=making.least(),
    )  # fmt: skip
    path = args.files[0]
    seen = silhouette(read_bytes(path), options=options, where=path.name)
    made = mended(seen.profiles[:1], making, what="the silhouette")
    part = from_profile(
        made.metal[0], name=name, thickness=thickness, grade=args.grade, came_from=f"picture {path.name}"
    )
    summary = f"  {seen.nodes} lines and arcs, at most {seen.departure:.2f} mm from the picture's edge; level {seen.level:.0f}"
    return replace(part, moved_max=seen.departure), [*seen.findings, *made.findings], summary
