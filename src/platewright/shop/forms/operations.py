"""Forms of the operations a person can do to a part: which fields the page shows, and how what was said is read.

The page draws its forms from this list and sends the fields back as typed; the numbers are made here.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from platewright.declared import Option, OptionGroup
from platewright.errors import InputError
from platewright.units import parse, parse_place, quoted, whole_number

__all__ = ["FORMS", "read_inputs", "read_value"]

MOST = 100_000
"""Largest count a field may say [-]."""


def _f(name: str, label: str, kind: str, default: str = "", **more: Any) -> Option:
    return Option(name=name, label=label, kind=kind, default=default, **more)


FORMS: dict[str, OptionGroup] = {
    form.name: form
    for form in (
        OptionGroup(
            "weld_room", "Weld room", "Set edges back so the bead has a place to lie. Tap the edges.",
            (_f("edges", "edges", "edges"), _f("distance", "set back by", "length", "5 mm")),
        ),
        OptionGroup(
            "set_length", "Set a length", "Tap a straight edge and type how long it is to be; the edge at the end with the dot moves along.",
            (
                _f("edge", "edge", "edge"), _f("length", "how long", "length", "100 mm"),
                _f("moves", "which end moves", "choice", "end", choices=("end", "start")),
            ),
        ),
        OptionGroup(
            "add_hole", "Hole", "One hole, by bolt or by diameter. Tap where its middle goes, or type it.",
            (_f("at", "middle", "spot"), _f("hole", "bolt or diameter", "hole", "M12")),
        ),
        OptionGroup(
            "bolt_circle", "Bolt circle", "Holes evenly round a circle.",
            (
                _f("centre", "middle", "spot"), _f("diameter", "circle", "length", "100 mm"),
                _f("count", "how many", "count", "4"), _f("hole", "bolt or diameter", "hole", "M12"),
                _f("start_angle", "first hole at", "angle", "45 deg"),
            ),
        ),
        OptionGroup(
            "row", "Row of holes", "Holes in a line.",
            (
                _f("start", "first hole", "spot"), _f("pitch", "hole to hole", "length", "50 mm"),
                _f("count", "how many", "count", "3"), _f("hole", "bolt or diameter", "hole", "M12"),
                _f("angle", "direction", "angle", "0 deg"),
            ),
        ),
        OptionGroup(
            "grid", "Rows and columns", "Holes in rows and columns, in one step. Tap where the lower left one goes.",
            (
                _f("start", "lower left hole", "spot"), _f("columns", "in a row", "count", "2"), _f("rows", "rows", "count", "2"),
                _f("across", "hole to hole across", "length", "50 mm"), _f("up", "row to row", "length", "50 mm"),
                _f("hole", "bolt or diameter", "hole", "M12"), _f("angle", "turned by", "angle", "0 deg"),
            ),
        ),
        OptionGroup(
            "along_edge", "Holes along an edge", "Holes at equal steps beside an edge. Tap the edge.",
            (
                _f("edge", "edge", "edge"), _f("inset", "in from the edge", "length", "20 mm"),
                _f("count", "how many", "count", "3"), _f("hole", "bolt or diameter", "hole", "M12"),
            ),
        ),
        OptionGroup(
            "add_slot", "Slot", "A hole with two round ends.",
            (
                _f("at", "middle", "spot"), _f("size", "width or bolt", "hole", "M12"),
                _f("between", "end to end of middles", "length", "20 mm"), _f("angle", "direction", "angle", "0 deg"),
            ),
        ),
        OptionGroup(
            "notch", "Notch", "A bite out of a straight edge. Tap the edge.",
            (
                _f("edge", "edge", "edge"), _f("at", "along the edge", "length", "20 mm"),
                _f("width", "width", "length", "10 mm"), _f("depth", "depth", "length", "10 mm"),
                _f("kind", "shape", "choice", "square", choices=("square", "vee", "round")),
            ),
        ),
        OptionGroup("mirror", "Other hand", "Flip the part left to right.", ()),
        OptionGroup(
            "add_bend_line", "Bend line", "Marked, not cut through.",
            (
                _f("start", "from", "spot"), _f("end", "to", "spot"), _f("radius", "inside radius", "length", "6 mm"),
                _f("angle", "bend", "angle", "90 deg"),
            ),
        ),
        OptionGroup(
            "centre_mark", "Drill mark", "A point to drill or fit by.",
            (_f("at", "place", "spot"), _f("text", "says", "text", "")),
        ),
        OptionGroup(
            "label", "Text", "A word on the part, marked or on paper only.",
            (
                _f("text", "text", "text", "A1"), _f("at", "place", "spot"), _f("height", "height", "length", "8 mm"),
                _f("kind", "how", "choice", "print", choices=("print", "etch")),
            ),
        ),
        OptionGroup(
            "cut_text", "Cut-out text", "A name cut through, with bridges. Tap its middle, or the edge it stands along.",
            (
                _f("text", "text", "text", "GATE 1"), _f("height", "letter height", "length", "30 mm"),
                _f("font", "font", "choice", "heavy", choices=("heavy", "condensed", "serif", "script", "stencil")),
                _f("at", "middle", "spot", optional=True), _f("edge", "or along the edge", "edge", optional=True),
                _f("inset", "in from the edge", "length", "10 mm"),
            ),
        ),
        OptionGroup(
            "remove_holes", "Fill holes", "Leave holes out, by the numbers findings call them: hole 1, hole 2, …",
            (_f("numbers", "holes", "numbers", "1"),),
        ),
        OptionGroup(
            "move_to_origin", "Straighten up", "Turn the part; its lower left comes to 0, 0.",
            (_f("angle", "turn by", "angle", "0 deg"),),
        ),
    )
}  # fmt: skip


def read_inputs(op: str, values: Mapping[str, Any], *, where: str) -> dict[str, object]:
    """Return an operation's inputs as numbers [mm, rad] from what was said; inputs that are numbers stay.

    Raises
    ------
    InputError
        Naming the field that does not fit.
    """
    form = FORMS.get(op)
    if form is None or (op == "grid" and "pitch" in values):
        return dict(values)
    known = {f.name: f for f in form.options}
    read: dict[str, object] = {k: v for k, v in values.items() if k not in known}
    for name, field in known.items():
        value = values.get(name, field.default)
        if value in ("", None, []):
            if field.optional or field.kind == "text":
                continue
            raise InputError(
                f"'{field.label}' is missing.", where=f"{where}.{name}",
                do="Tap it on the picture." if field.kind in ("spot", "edge", "edges") else "Type it.",
            )  # fmt: skip
        read[name] = read_value(field, value, f"{where}.{name}")
    if op == "grid":  # the operation takes pairs
        read["pitch"] = (read.pop("across"), read.pop("up"))
        read["counts"] = (read.pop("columns"), read.pop("rows"))
    if op == "remove_holes":  # the operation counts from 0
        numbers = read.pop("numbers")
        read["holes"] = [n - 1 for n in numbers] if isinstance(numbers, list) else numbers
    return read


def read_value(field: Option, value: Any, where: str) -> Any:
    """Return one field's value from what was said: lengths [mm], angles [rad], counts [-]; numbers stay.

    Raises
    ------
    InputError
        If it does not fit.
    """
    if field.kind == "length":
        return parse(value, unit="mm", where=where)
    if field.kind == "angle":
        return parse(value, "angle", unit="deg" if isinstance(value, str) else "rad", where=where)
    if field.kind == "count":
        return _whole(value, where)
    if field.kind == "spot":
        return _spot(value, where)
    if field.kind == "numbers" and isinstance(value, str):
        return [_whole(v, where) for v in value[:2000].replace(",", " ").split()]
    if field.kind == "choice" and value not in field.choices:
        raise InputError(f"'{quoted(value)}' is not a choice.", where=where, allowed=field.span())
    return value


def _whole(value: Any, where: str, *, low: int = 1) -> int:
    return whole_number(value, low=low, high=MOST, what="count", where=where)


def _spot(value: Any, where: str) -> tuple[float, float]:
    """Return a place [mm]; one measured from somewhere else is ``{"said": "40, 30 mm", "from": [x, y]}``."""
    if isinstance(value, Mapping):
        zero = value.get("from")
        if set(value) - {"said", "from", "zero"} or not isinstance(zero, list | tuple) or len(zero) != 2:
            raise InputError(f"'{quoted(value)}' is not a place.", where=where, do="Write it like 40, 30 mm.")
        x, y = _spot(value.get("said"), where)
        return x + parse(zero[0], unit="mm", where=where), y + parse(zero[1], unit="mm", where=where)
    if isinstance(value, str):
        return parse_place(value, unit="mm", where=where)
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise InputError(f"'{quoted(value)}' is not a place.", where=where, do="Write it like 40, 30 mm.")
    return parse(value[0], unit="mm", where=where), parse(value[1], unit="mm", where=where)
