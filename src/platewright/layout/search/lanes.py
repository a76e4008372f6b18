"""Eight raster nodes at a time: what a move of the search spends its time on, as the machine runs it in lanes.

A raster's rows are some twenty nodes long. A compiler that finds lanes by itself takes thirty-two nodes at a step and what is left
of a row by fours and one by one: here that is all of it.
"""

from __future__ import annotations

from typing import Any

from llvmlite import ir

from platewright.compiled import intrinsic, types

__all__ = ["LANES", "add_lanes", "least_lanes"]

LANES = 8
"""Nodes taken at a time [-]."""

SINGLES = ir.VectorType(ir.FloatType(), LANES)
SHORTS = ir.VectorType(ir.IntType(16), LANES)


def _lanes(context: Any, builder: Any, kind: Any, array: Any, at: Any) -> Any:
    """Return a pointer to the nodes of a flat array from place `at` on."""
    data = context.make_array(kind)(context, builder, array).data
    lanes = SHORTS if kind.dtype == types.uint16 else SINGLES
    return builder.bitcast(builder.gep(data, [at]), lanes.as_pointer())


def _alike(builder: Any, value: Any) -> Any:
    """Return lanes that all hold a single."""
    none, index = ir.Constant(SINGLES, ir.Undefined), ir.VectorType(ir.IntType(32), LANES)
    first = builder.insert_element(none, value, ir.Constant(ir.IntType(32), 0))
    return builder.shuffle_vector(first, none, ir.Constant(index, [0] * LANES))


@intrinsic
def add_lanes(_: Any, field: Any, to: Any, raster: Any, at: Any, weight: Any) -> Any:
    """Add `weight` (a single) times a raster's nodes (shorts) from `at` on to a field's (singles) from `to` on; both are flat arrays."""

    def code(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        target = _lanes(context, builder, signature.args[0], given[0], given[1])
        source = _lanes(context, builder, signature.args[2], given[2], given[3])
        depths = builder.uitofp(builder.load(source, align=2), SINGLES)
        added = builder.fmul(depths, _alike(builder, given[4]))
        builder.store(builder.fadd(builder.load(target, align=4), added), target, align=4)
        return context.get_dummy_value()

    return types.void(field, types.intp, raster, types.intp, types.float32), code


@intrinsic
def least_lanes(_: Any, lows: Any, to: Any, field: Any, at: Any) -> Any:
    """Set `lows` from `to` on to what is less of them and a field's nodes from `at` on; both are flat arrays of singles."""

    def code(context: Any, builder: Any, signature: Any, given: Any) -> Any:
        target = _lanes(context, builder, signature.args[0], given[0], given[1])
        source = _lanes(context, builder, signature.args[2], given[2], given[3])
        low, node = builder.load(target, align=4), builder.load(source, align=4)
        builder.store(builder.select(builder.fcmp_ordered("<", node, low), node, low), target, align=4)
        return context.get_dummy_value()

    return types.void(lows, types.intp, field, types.intp), code
