"""Everything that can be done to a part: pure functions, each recorded on the part so that it can be replayed.

    part = families.make("plate", {"width": "200 mm", "height": "100 mm"})
    part = ops.weld_room(part, edges=[(0, 0)], distance=5.0)
    part = ops.add_hole(part, at=(30, 30), hole="M12")
    part = ops.mirror(part)
    part = replay(edited_steps)          # part.replay

Lengths in [mm], angles in [rad]. Edges and corners are pairs (contour, number), contour 0 being the outline.
"""

from __future__ import annotations

from platewright.part.ops.corners import chamfer_corners, fillet_corners, relief_holes, snipe_corners
from platewright.part.ops.holes import (
    add_hole,
    add_slot,
    along_edge,
    bolt_circle,
    copy_holes,
    grid,
    mirror_holes,
    remove_holes,
    row,
    small_holes,
)
from platewright.part.ops.marks import add_bend_line, add_mark, centre_mark, label, remove_marks
from platewright.part.ops.retype import set_length
from platewright.part.ops.shape import (
    add_slots_for_tabs,
    add_tabs,
    cut_out,
    join,
    mirror,
    move_to_origin,
    notch,
    scale,
    tab_clearance,
    turn_to_edge,
)
from platewright.part.ops.steps import OPERATIONS, from_profile
from platewright.part.ops.text import cut_text
from platewright.part.ops.welds import propose_room, weld_room

__all__ = [
    "OPERATIONS", "add_bend_line", "add_hole", "add_mark", "add_slot", "add_slots_for_tabs", "add_tabs",
    "along_edge", "bolt_circle", "centre_mark", "chamfer_corners", "copy_holes", "cut_out", "cut_text",
    "fillet_corners", "from_profile", "grid", "join", "label", "mirror", "mirror_holes", "move_to_origin",
    "notch", "propose_room", "relief_holes", "remove_holes", "remove_marks", "row", "scale", "set_length",
    "small_holes", "snipe_corners", "tab_clearance", "turn_to_edge", "weld_room",
]  # fmt: skip
