"""Routes that answer while a person drags or types: families as they stand, places on a plate, quantities."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Response

from platewright.declared import OptionGroup
from platewright.shop.document import read_job
from platewright.shop.folder.store import MissingError
from platewright.shop.forms.fields import Form, form_of
from platewright.shop.forms.operations import FORMS
from platewright.shop.forms.spoken import in_units
from platewright.shop.line import step_id
from platewright.shop.pipeline import facts_of, states
from platewright.shop.typed import Understood, understand, unit_of
from platewright.web.models import live as m
from platewright.web.state import Held, ServerState

if TYPE_CHECKING:
    from platewright.layout.drag import Drag
    from platewright.layout.model import Layout
    from platewright.layout.shape.reach import Reach

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["live"])


@router.get("/families")
def list_families(server: Held) -> list[Form]:
    """List the families of shapes with their dimensions."""
    from platewright.part.families import families

    unit = unit_of(server.shop)
    groups = (OptionGroup(f.name, f.title, f.help, f.parameters) for f in families().values())
    return [form_of(group, unit) for group in groups]


@router.get("/families/{name}/picture.svg", response_class=Response)
def family_picture(name: str) -> Response:
    """Draw a family with its dimensions named."""
    from platewright.part.families import family
    from platewright.part.families.picture import picture

    return Response(
        picture(family(name)), media_type="image/svg+xml", headers={"cache-control": "max-age=3600"}
    )


@router.post("/families/{name}/live", response_model=m.LivePart)
def family_live(server: Held, name: str, body: m.LiveAsk) -> dict[str, Any]:
    """Draw a family's shape with dimensions as they are being typed; errors name the field."""
    from platewright.part.families import family, fonted, made, pieces
    from platewright.shop.scene import grip_items, part_scene, spots

    values = fonted(name, dict(body.values), server.shop.named_file)
    found = made(name, values, called=name)
    part = found.part
    drawn = part_scene(part)
    drawn["items"] += grip_items(found.grips)
    box = part.profile.bounds()
    numbers = [
        {"label": "size", "value": f"{box.width:.2f} × {box.height:.2f} mm"},
        {"label": "area", "value": f"{part.profile.area() / 100:.1f} cm²"},
        {"label": "holes", "value": str(len(part.profile.holes))},
    ]
    several = [
        {
            "name": p.name,
            "values": {k: body.values[k] if k == "font" else str(v) for k, v in p.values.items()},
        }
        for p in pieces(name, values)
    ]  # a font of the shop's own stays said as its file
    shown: dict[str, Any] = in_units(
        {
            "scene": drawn, "numbers": numbers, "notes": list(part.notes), "findings": spots(found.findings),
            "pieces": several if len(several) > 1 else [], "template": family(name).template is not None,
        },
        unit_of(server.shop),
    )  # fmt: skip
    return shown


@router.post("/families/{name}/template.pdf", response_class=Response)
def family_template(server: Held, name: str, body: m.LiveAsk, paper: str = "letter") -> Response:
    """Print the paper to mount single letters by."""
    from platewright.paper.full_size import full_size
    from platewright.part.families import fonted, template

    part = template(name, fonted(name, dict(body.values), server.shop.named_file))
    if part is None:
        raise MissingError("This shape has no template to mount by.", do="It belongs to the family letters.")
    return Response(full_size(part, paper=paper), media_type="application/pdf")


@router.get("/operations")
def list_operations(server: Held) -> list[Form]:
    """List what can be done to a part, with the fields of each form."""
    unit = unit_of(server.shop)
    return [form_of(f, unit) for f in FORMS.values()]


@router.get("/burn-options")
def list_burn_options(server: Held) -> m.BurnFormView:
    """List what may be chosen about a burn, with what is done where nothing is said."""
    from platewright.burn.declared import CUT, PLAN

    unit = unit_of(server.shop)
    return m.BurnFormView(plan=[form_of(f, unit) for f in PLAN], cut=form_of(CUT, unit))


@router.get("/layout-options")
def list_layout_options(server: Held) -> m.LayoutFormView:
    """List what may be chosen about a layout, with what is done where nothing is said."""
    from platewright.layout.declared import OWN
    from platewright.shop.forms.layout import OFFERED

    unit = unit_of(server.shop)
    return m.LayoutFormView(plan=[form_of(f, unit) for f in OFFERED], own=form_of(OWN, unit))


@router.post("/say")
def say(server: Held, body: m.SayAsk) -> Understood:
    """Read a quantity as a job would [mm, rad, s …], and say how it was understood in the shop's unit."""
    unit = body.unit or unit_of(server.shop)
    return understand(body.text, body.kind, metal=body.metal, shown=unit, where="text")


@lru_cache(maxsize=8)
def _layout(shop: str, key: str, server: ServerState) -> Layout:
    from platewright.layout.model import Layout

    kept = server.shop.result(key)
    if kept is None or kept["state"] != "done":
        raise MissingError("This layout is not there any more.", do="Lay the parts again.")
    return Layout.from_dict(kept["data"]["layout"])


@lru_cache(maxsize=32)
def _drag(shop: str, key: str, turn: tuple[int, float, bool], reach: Reach, server: ServerState) -> Drag:
    from platewright.layout.drag import pick_up

    index, angle, mirrored = turn
    return pick_up(_layout(shop, key, server), index, angle=angle, mirror=mirrored, reach=reach)


@router.post("/jobs/{job}/move")
def move(server: Held, job: str, body: m.MoveAsk) -> m.MoveAnswer:
    """Tell whether a copy may lie where it is held, and the nearest place where it may [mm]."""
    from platewright.layout.shape.reach import reach_of
    from platewright.shop.values import table_of

    document = read_job(server.shop.load("job", job).doc)
    ident = step_id("layout", body.plate)
    key = next((s.step.key for s in states(server.shop, document) if s.step.id == ident), "")
    turn = (body.index, round(body.angle_rad, 6), body.mirrored)
    reach = reach_of(table_of(document.burn.table, facts_of(server.shop).tables))
    spot = _drag(str(server.shop.folder), key, turn, reach, server).at(body.x_mm, body.y_mm)
    near = spot.nearest
    return m.MoveAnswer(
        legal=spot.legal, x_mm=None if near is None else near.x, y_mm=None if near is None else near.y
    )
