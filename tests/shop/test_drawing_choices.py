"""What becomes of a drawing's open lines and text is told, and chosen; the file is written by an independent library."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import ezdxf
import pytest

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


def pattern(shop: Shop, until: str = "pattern", **source: Any) -> dict[str, Any]:
    kept = shop.put_file(drawing(), name="plate.dxf", media="image/vnd.dxf")
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
