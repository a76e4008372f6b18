"""Child process: packingsolver, told on standard input what to pack, prints a line for each better answer.

Runs in the newer Python named in PLATEWRIGHT_BENCH_PYTHON and in a folder of its own (the library may drop files).
"""

import json
import os
import sys
import tempfile
from typing import Any

import packingsolver.irregular as ps


def main() -> None:
    """Pack, printing better answers as they come; the last line is the best."""
    requested = json.load(sys.stdin)
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        pack(requested)
        os.chdir("/")


def pack(requested: dict[str, Any]) -> None:
    """Build the question and answer it: a strip of least length, or as many pieces as a plate holds."""
    builder = ps.InstanceBuilder()
    strip = requested.get("room") is None
    builder.set_objective(ps.Objective.OpenDimensionX if strip else ps.Objective.Knapsack)
    if requested["apart"]:
        builder.set_item_item_minimum_spacing(requested["apart"])
    if strip:
        builder.add_bin_type(ps.build_rectangle(0, 100 * requested["height"], 0, requested["height"]))
    else:
        plate = builder.add_bin_type(shape(requested["room"][0]), copies=1)
        for hole in requested["room"][1:]:
            builder.add_defect(plate, -1, ps.ShapeWithHoles(shape(hole[::-1])))
    for s in requested["shapes"]:
        turns = [(0.0, 360.0, False)] if s["degrees"] is None else [(d, d, False) for d in s["degrees"]]
        whole = ps.ShapeWithHoles(shape(s["loops"][0]), [shape(hole[::-1]) for hole in s["loops"][1:]])
        more = {} if strip else {"profit": 1.0}
        builder.add_item_type(whole, copies=s["count"], allowed_rotations=turns, **more)
    parameters = ps.OptimizeParameters()
    parameters.time_limit = requested["seconds"]
    parameters.verbosity_level = 0
    parameters.messages_to_stdout = False
    for name in requested.get("use", ()):
        setattr(parameters, f"use_{name}", True)
    parameters.new_solution_callback = tell
    tell(ps.optimize(builder.build(), parameters))


def shape(points: list[list[float]]) -> Any:
    """Return a counterclockwise loop as the library's polygon."""
    return ps.build_shape([(x, y) for x, y in points])


def tell(found: Any) -> None:
    """Print where every item lies: item, x, y, degrees."""
    solution = found.solution
    rows = [
        [item.item_type_id, item.bl_corner.x, item.bl_corner.y, item.angle]
        for at in range(solution.number_of_bins())
        for item in solution.bin(at).items
    ]
    if rows:
        print(json.dumps(rows), flush=True)


main()
