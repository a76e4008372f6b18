"""What becomes of a drawing's open lines and text is told, and chosen; the file is written by an independent library."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from ezdxf import bbox
from ezdxf.enums import TextEntityAlignment

from platewright.shop.document import read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import run


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path)


def drawing() -> bytes:
    """Return a plate 100 by 60 mm with a corner 2 mm open, a stray line, and two texts on it."""
    doc = ezdxf.new()
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    for a, b in (((0, 0), (100, 0)), ((100, 0), (100, 60)), ((100, 60), (0, 60)), ((0, 60), (0, 2))):
        space.add_line(a, b)
    space.add_line((300, 0), (340, 0))
    space.add_circle((50, 30), 5)
    space.add_text("A1", height=5).set_placement((20, 20))
    space.add_mtext("HINGE 2").set_location((20, 40))
    held = io.StringIO()
    doc.write(held)
    return held.getvalue().encode()


def pattern(shop: Shop, until: str = "pattern", of: Any = None, **source: Any) -> dict[str, Any]:
    held = io.StringIO()
    if of:
        of.write(held)
    data = held.getvalue().encode() or drawing()
    kept = shop.put_file(data, name="plate.dxf", media="image/vnd.dxf")
    values = {"kind": "drawing", "file": kept.sha256, "name": "plate.dxf", **source}
    job = read_job({"parts": [{"id": "p", "name": "plate", "source": values}], "layout": {"seconds": 0.1}})
    (step,) = (s for s in run(shop, job, until=until) if s.step.station == until)
    assert step.result is not None
    return step.result


def codes(result: dict[str, Any]) -> list[str]:
    return sorted({f["code"] for f in result["findings"]})


def test_an_open_corner_is_joined_as_its_finding_advises(shop: Shop) -> None:
    small = pattern(shop)  # only the circle closes
    assert "G001" in codes(small)
    assert "2 mm" in next(f["text"] for f in small["findings"] if f["code"] == "G001" and "2 mm" in f["text"])
    whole = pattern(shop, gap="2.2 mm", texts="leave")
    assert whole["summary"].startswith("drawing plate.dxf: 100.0 × 60.0 mm")
    left = pattern(shop, gap="2.2 mm", texts="leave", open_lines="leave")
    assert "G001" in codes(whole)  # the stray line is still told
    assert "G001" not in codes(left)


def test_text_is_listed_and_can_become_a_mark(shop: Shop) -> None:
    plain = pattern(shop, gap="2.2 mm")
    (told,) = (f for f in plain["findings"] if f["code"] == "D008")
    assert "'A1', 'HINGE 2'" in told["text"]
    assert plain["data"]["texts"] == ["A1", "HINGE 2"]
    kinds = {m["kind"] for m in plain["data"]["part"]["marks"]}
    burned = pattern(shop, gap="2.2 mm", texts="mark", text_height="10 mm")
    assert "D008" not in codes(burned)
    marks = [m for m in burned["data"]["part"]["marks"] if m["text"] in ("A1", "HINGE 2")]
    assert kinds == {"print"}
    assert {m["kind"] for m in marks} == {"etch"}
    assert all(m["contour"] for m in marks)
    assert pattern(shop, gap="2.2 mm", texts="leave")["data"]["part"]["marks"] == []


@pytest.mark.parametrize("turn", [0, 90, 180])
@pytest.mark.parametrize("align", ["LEFT", "MIDDLE_CENTER", "TOP_RIGHT", "MIDDLE", "BOTTOM_CENTER"])
def test_a_burned_text_stands_where_it_is_drawn(shop: Shop, align: str, turn: int) -> None:
    """The library that wrote the file lays the same text out in a font: both lie on the same place, turned alike."""
    doc = ezdxf.new()
    doc.header["$INSUNITS"] = 4
    space = doc.modelspace()
    space.add_lwpolyline([(0, 0), (200, 0), (200, 160), (0, 160)], close=True)
    drawn = space.add_text("HEH", height=12, rotation=turn)
    drawn.set_placement((100, 80), align=TextEntityAlignment[align])
    marks = pattern(shop, of=doc, texts="mark")["data"]["part"]["marks"]
    ours = np.array([row[:2] for m in marks for row in m["contour"]["rows_mm_mm_bulge"]]) - (100, 80)
    box = bbox.extents([drawn])
    theirs = np.array([[box.extmin.x, box.extmin.y], [box.extmax.x, box.extmax.y]]) - (100, 80)
    cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    (left, low), (right, high) = (f(ours @ [[cos, -sin], [sin, cos]], axis=0) for f in (np.min, np.max))
    (their_left, their_low), (their_right, their_high) = (
        f(theirs @ [[cos, -sin], [sin, cos]], axis=0) for f in (np.min, np.max)
    )
    assert high - low == pytest.approx(12)
    along = {"LEFT": (left, their_left), "TOP_RIGHT": (right, their_right)}
    at, their_at = along.get(align, ((left + right) / 2, (their_left + their_right) / 2))
    assert at == pytest.approx(their_at, abs=1.5)  # a font leaves room beside a letter
    assert (low + high) / 2 == pytest.approx((their_low + their_high) / 2, abs=2.5)  # and below it


def test_text_of_several_lines_is_held_by_its_own_corner_and_letters_by_their_height(shop: Shop) -> None:
    """MTEXT is held by one of nine points (DXF reference, group code 71): 5 is its middle."""
    doc = ezdxf.new()
    doc.header["$INSUNITS"] = 4
    doc.modelspace().add_lwpolyline([(0, 0), (200, 0), (200, 160), (0, 160)], close=True)
    for point, spot in ((5, (100, 80)), (1, (20, 150)), (9, (190, 10))):
        doc.modelspace().add_mtext("HEH", dxfattribs={"char_height": 6}).set_location(
            spot, attachment_point=point
        )
    marks = pattern(shop, of=doc, texts="mark")["data"]["part"]["marks"]
    spots = np.array([row[:2] for m in marks for row in m["contour"]["rows_mm_mm_bulge"]])
    middle = spots[np.hypot(*(spots - (100, 80)).T) < 30]
    assert (middle.min(axis=0) + middle.max(axis=0)) / 2 == pytest.approx([100, 80])
    first = spots[spots[:, 0] < 60]
    assert [first[:, 0].min(), first[:, 1].max(), np.ptp(first[:, 1])] == pytest.approx([20, 150, 6])
    last = spots[spots[:, 0] > 150]
    assert [last[:, 0].max(), last[:, 1].min()] == pytest.approx([190, 10])


def test_each_stroke_of_a_burned_text_has_a_name_of_its_own_on_the_plate(shop: Shop) -> None:
    """The page draws by these names: two alike once left it blank."""
    laid = pattern(shop, "layout", gap="2.2 mm", open_lines="leave", texts="mark", text_height="10 mm")
    names = [i["id"] for i in laid["scene"]["items"]]
    assert sum("mark" in n for n in names) > 2
    assert len(set(names)) == len(names)


@pytest.mark.parametrize(("key", "text"), [("gap", "90 mm"), ("gap", "wide"), ("text_height", "0.1 mm")])
def test_a_slip_is_told_beside_its_field(shop: Shop, key: str, text: str) -> None:
    result = pattern(shop, texts="mark", **{"gap": "2.2 mm", key: text})
    assert result["state"] == "failed"
    assert result["error"]["where"] == f"parts.0.source.{key}"
