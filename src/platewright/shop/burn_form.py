"""Forms of what a shop may choose about the burn, for the whole plan and for one cut; read into the planner's options.

A field left empty is the planner's own choice; its ``default`` says in words what that is. What was said stays in the
job as said, and is read here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from platewright.errors import InputError
from platewright.shop.forms import FieldForm, OperationForm, read_value
from platewright.units import parse

if TYPE_CHECKING:
    from platewright.burn.options import BurnOptions, CutChoice
    from platewright.layout.model import Layout
    from platewright.shop.document import JobDocument

__all__ = ["BURN_FORMS", "CUT_FORM", "amperage_of", "options_of", "read_choice", "read_options"]

_LEADS = ("arc", "straight", "centre", "edge")
_F = FieldForm

BURN_FORMS: tuple[OperationForm, ...] = (
    OperationForm(
        "leads", "Leads and starts", "Where a cut starts, and how it comes in and goes out.",
        (
            _F("start", "start at", "choice", "a corner, if there is one", choices=("corner", "straight", "anywhere")),
            _F("lead", "lead-in", "choice", "the best that fits", choices=_LEADS),
            _F("lead_length", "lead length", "length", "from the chart"),
            _F("overburn", "run past the start", "length", "one kerf", help="on outlines; minus stops short"),
            _F("splash", "room round a pierce", "length", "from metal and kerf"),
            _F("edge_start", "start off the plate’s edge", "flag", "no", help="where the plate is too thick to pierce"),
        ),
    ),
    OperationForm(
        "holes", "Holes", "Small holes are cut slower; very small ones are better drilled.",
        (
            _F("small_hole", "slow below", "length", "4 × thickness, at least 12 mm"),
            _F("hole_speed_factor", "their speed", "share", "from the chart", help="of the cut speed, such as 60 %"),
            _F("hole_overburn", "run past the start", "length", "0 mm", help="minus stops short"),
            _F("mark_below", "only mark below", "length", "0 mm", help="narrower holes get a drill mark"),
        ),
    ),
    OperationForm(
        "corners", "Corners and shared cuts", "",
        (
            _F("round_inside", "round inside corners to", "length", "0 mm", help="0: as the kerf leaves them"),
            _F("corner_loops", "loop round sharp corners", "flag", "no", help="in the scrap, so that they come out sharp"),
            _F("common_line", "cut shared edges once", "flag", "no", help="where parts lie a kerf apart"),
            _F("chain", "run on to the next part", "flag", "no", help="without a new pierce"),
        ),
    ),
    OperationForm(
        "tabs", "Tabs", "Bridges left standing so that small parts do not tip or fall.",
        (
            _F("tab_below", "for parts below", "length", "0 mm: none", help="their longest side"),
            _F("tabs_count", "how many", "count", "2"),
            _F("tabs_width", "how wide", "length", "from the thickness"),
        ),
    ),
    OperationForm(
        "order", "Order, heat and travel", "",
        (
            _F("spread_heat", "from one cut to the next at least", "length", "30 mm up to 1.6 mm, else off"),
            _F("route", "go round tipped pieces", "flag", "yes"),
            _F("slats", "slats are apart", "length", "100 mm"),
            _F("home", "torch rests at", "spot", "0, 0 mm"),
            _F("effort", "look for a better order for", "time", "0.5 s"),
            _F("seed", "another order", "count", "1", help="any whole number"),
        ),
    ),
    OperationForm(
        "pauses", "Touch-off, air and pauses", "A wait goes on by itself; a stop waits for you.",
        (
            _F("touch_every", "touch off again after", "length", "0 mm: at each pierce", help="where the program touches off"),
            _F("post_flow", "air on after each cut", "time", "0 s: move on at once"),
            _F("pause_duty", "wait for the duty cycle", "flag", "no", help="as long as the power source needs"),
            _F("pause_air", "wait for the tank", "flag", "no"),
            _F("pause_tip", "stop to change the tip", "flag", "no", help="by pierces and arc time, from the table"),
            _F("pause_every", "stop for a look every", "time", "0 s: never", help="water level, slag"),
        ),
    ),
    OperationForm(
        "quality", "Quality and marks", "",
        (
            _F("quality", "edge at least", "choice", "not asked", choices=("1", "2", "3", "4", "5"), help="ISO 9013 range for u, 1 is the squarest"),
            _F("marks", "burn marks and text", "flag", "yes"),
            _F("tip", "tip is rated for", "current", "the amperage", help="told where the two part"),
            _F("process", "gas or process", "text", "the chart’s first for the metal"),
        ),
    ),
)  # fmt: skip

CUT_FORM = OperationForm(
    "cut", "This cut", "Only for this contour; empty is as for the others.",
    (
        _F("lead", "lead-in", "choice", "as the others", choices=_LEADS),
        _F("lead_length", "lead length", "length", "as the others"),
        _F("overburn", "run past the start", "length", "as the others"),
        _F("speed_factor", "speed", "share", "as the others", help="of the cut speed, such as 80 %"),
        _F("rank", "burn early or late", "rank", "as the planner finds best", choices=("early", "late")),
        _F("reverse", "go round the other way", "flag", "no"),
        _F("tabs_count", "tabs", "count", "as the others"),
        _F("tabs_width", "tab width", "length", "from the thickness"),
        _F("skip", "leave it out", "flag", "no"),
    ),
)  # fmt: skip

RANKS = {"early": -1, "late": 1}
"""Ranks of cuts burnt before and after the others, where what must come first allows [-]."""


def read_options(said: Mapping[str, Any], *, where: str) -> BurnOptions:
    """Return the planner's options [mm, s, -] from what was said; what is no text is taken as it is.

    Raises
    ------
    InputError
        Naming the field that does not fit, and what it may be.
    """
    from platewright.burn.options import BurnOptions

    fields = [f for form in BURN_FORMS for f in form.fields]
    read = _read(said, fields, where)
    for key, value in read.items():  # each alone first, so that what is wrong is told beside its own field
        BurnOptions.from_dict(_with_tabs({key: value}), where=f"{where}.{key}")
    return BurnOptions.from_dict(_with_tabs(read), where=where)


def read_choice(said: Mapping[str, Any], cut: CutChoice, *, where: str) -> CutChoice:
    """Return what was said of one cut, laid over what is decided about it already [mm, -].

    Raises
    ------
    InputError
        Naming the field that does not fit, and what it may be.
    """
    from platewright.burn.options import BurnOptions, TabChoice

    read = _with_tabs(_read(said, CUT_FORM.fields, where))
    if tabs := read.pop("tabs", None):
        read["tabs"] = TabChoice(**tabs)
    made = replace(cut, **read)
    try:
        BurnOptions(cuts=(made,))
    except InputError as bad:
        field = next((k for k in said if f"{k} " in bad.what), "")
        raise InputError(bad.what, where=f"{where}.{field}".rstrip("."), allowed=bad.allowed) from None
    return made


def amperage_of(job: JobDocument) -> float | None:
    """Return the amperage [A] said for a job, None for the chart's best."""
    said = job.burn.amperage.strip()
    return parse(said, "current", unit="A", where="burn.amperage") if said else None


def options_of(job: JobDocument, layout: Layout) -> BurnOptions:
    """Return the choices a job's layout is planned with [A, mm]."""
    from platewright.burn.options import CutChoice

    entry, amps = job.burn, amperage_of(job)
    options = read_options(entry.options, where="burn.options")
    ids = [p.id for p in job.parts]
    places = {(ids[p.part], p.copy, p.pose.mirrored): n for n, p in enumerate(layout.placements)}
    cuts = []
    for n, lead in enumerate(entry.leads):
        place = places.get((lead.part, lead.copy_number, lead.mirrored))
        if place is not None:
            plain = CutChoice(place, lead.contour, start=lead.at_mm)
            cuts.append(read_choice(lead.options, plain, where=f"burn.leads.{n}"))
    return replace(
        options, amperage=amps if amps is not None else options.amperage, cuts=(*options.cuts, *cuts)
    )


def _read(said: Mapping[str, Any], fields: Iterable[FieldForm], where: str) -> dict[str, Any]:
    known = {f.name: f for f in fields}
    read = {}
    for key, value in said.items():
        if not isinstance(value, str) or key not in known:
            read[key] = value
        elif value.strip():
            read[key] = _value(known[key], value.strip(), f"{where}.{key}")
    return read


def _value(field: FieldForm, text: str, where: str) -> Any:
    if field.kind == "flag":
        if text not in ("yes", "no"):
            raise InputError(f"'{text}' is not a choice.", where=where, allowed="yes, no")
        return text == "yes"
    if field.kind == "share":
        return parse(text, "ratio", where=where)
    if field.kind == "current":
        return parse(text, "current", unit="A", where=where)
    if field.kind == "time":
        return parse(text, "time", unit="s", where=where)
    if field.kind == "rank":
        return RANKS[
            read_value(FieldForm(field.name, field.label, "choice", choices=field.choices), text, where)
        ]
    value = read_value(field, text, where)
    return int(value) if field.name == "quality" else value


def _with_tabs(read: dict[str, Any]) -> dict[str, Any]:
    """Return what was read with the two fields of tabs as the one option they make [-, mm]."""
    tabs = {k.removeprefix("tabs_"): read[k] for k in ("tabs_count", "tabs_width") if k in read}
    rest = {k: v for k, v in read.items() if not k.startswith("tabs_")}
    return rest | ({"tabs": {"count": 2, **tabs}} if tabs else {})
