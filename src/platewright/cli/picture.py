"""Options of `read` for silhouettes, and the part made of one."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from platewright.cli.common import declare, read_bytes
from platewright.units import parse

if TYPE_CHECKING:
    from platewright.findings import Finding
    from platewright.part.model import Part

__all__ = ["add_options", "from_picture"]


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of a silhouette (no numbers with units [-])."""
    one = parser.add_argument_group("silhouettes")
    declare(
        one,
        ("--silhouette WIDTH", "make the picture a silhouette this wide: '300 mm'"),
        ("--level N", "0 to 100: from which difference on it is metal (default: found)", {"type": float}),
        ("--invert", "the background is the metal"),
        ("--smooth LENGTH", "how far the outline may be from the picture's edge", {"default": "0.3 mm"}),
        ("--smallest LENGTH", "smallest detail that is kept", {"default": "3 mm"}),
        ("--fill", "fill holes"),
        ("--keep", "the largest piece, or all pieces joined by strips", {"choices": ("largest", "joined"), "default": "largest"}),
        ("--kerf LENGTH", "width of the cut: thin places are made wider for it", {"default": "1.5 mm"}),
        ("--thin", "what is done about thin places", {"choices": ("thin places", "leave"), "default": "thin places"}),
    )  # fmt: skip


def from_picture(args: argparse.Namespace, *, name: str, thickness: float) -> tuple[Part, list[Finding], str]:
    """Return the part of a silhouette [mm], what was found, and a sentence on its nodes."""
    from platewright.part.ops.steps import from_profile
    from platewright.pattern.letters.cut import Making, mended
    from platewright.pattern.silhouette import SilhouetteOptions, silhouette

    making = Making(thickness=thickness, kerf=parse(args.kerf, where="--kerf"), mend=args.thin)
    options = SilhouetteOptions(
        width=parse(args.silhouette, where="--silhouette"), level=args.level, invert=args.invert,
        smooth=parse(args.smooth, where="--smooth"), smallest=parse(args.smallest, where="--smallest"),
        fill=args.fill, keep=args.keep, web=making.least(),
    )  # fmt: skip
    path = args.files[0]
    traced = silhouette(read_bytes(path), options=options, where=path.name)
    made = mended(traced.profiles[:1], making, what="the silhouette")
    part = from_profile(
        made.metal[0], name=name, thickness=thickness, grade=args.grade, came_from=f"picture {path.name}"
    )
    summary = f"  {traced.nodes} lines and arcs, at most {traced.departure:.2f} mm from the picture's edge; level {traced.level:.0f}"
    return replace(part, moved_max=traced.departure), [*traced.findings, *made.findings], summary
