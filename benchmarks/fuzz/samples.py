"""Sound documents, drawings, photos and backups, to be spoiled."""

from __future__ import annotations

import io
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

# -- what is read -----------------------------------------------------------------------------


@cache
def documents() -> dict[str, Any]:
    from platewright.geometry import Pose
    from platewright.layout.model import Layout, Placement
    from platewright.part.families import make
    from platewright.stock.model import Plate
    from platewright.table.chart import starter_chart
    from platewright.table.chart_file import write_chart

    part = make("gusset", {})
    layout = Layout(
        plate=Plate.sheet("s", 600, 400, 6.0), parts=(part,), placements=(Placement(0, Pose(20.0, 20.0)),)
    )
    chart = write_chart(starter_chart())
    return {
        "part": part.as_dict(), "plate": layout.plate.as_dict(), "layout": layout.as_dict(), "job": job(),
        "points": {"unit": "mm", "habit": "auto", "loops": [[[0, 0], [90, 0], [90, 50], [0, 50]]], "holes": [{"x": 20, "y": 20, "diameter": 9}]},
        "chart": chart[: chart.index("[[row]]", 900)], "table": _table(), "csv": "x,y,loop\n0,0,1\n90,0,1\n90,50,1\n0,50,1\nhole,20,20,9\n",
        "rates": 'steel_per_kg = "2.40"\nmargin_share = "0.30"\ncurrency = "EUR"\n', "bills": "rate,amount,quantity\nsteel_per_kg,100.00,40\n",
        "readings": _readings(),
    }  # fmt: skip


def job() -> dict[str, Any]:
    circle = {"kind": "circle", "x": "700 mm", "y": "450 mm", "diameter": "120 mm"}
    return {
        "format": "platewright-job-1", "name": "gate", "customer": "West farm",
        "parts": [{"id": "gus", "name": "gusset", "quantity": 3, "source": {"kind": "family", "family": "gusset", "values": {"across": "80 mm"}},
                   "operations": [{"op": "add_hole", "inputs": {"at": "20, 20 mm", "hole": "M8"}}]}],
        "plate": {"name": "drop", "kind": "drop", "size": "900 x 600 mm", "holes": [circle], "grain": "90 deg", "cost": "64.50"},
        "keepouts": [{"name": "magnet", "place": circle, "stands": "50 mm"}], "layout": {"seconds": 0.1, "between": "6 mm"},
        "burn": {"amperage": "45 A", "options": {"overburn": "2 mm"}}, "price": {"rates": {"steel_per_kg": "2.2"}, "quantities": "2, 5"},
    }  # fmt: skip


def _table() -> str:
    from importlib.resources import files

    return files("platewright.table").joinpath("data/small-gantry.table.toml").read_text(encoding="utf-8")


def _readings() -> str:
    return (
        'format = "platewright-readings-1"\nunit = "mm"\n[coupon]\nprocess = "air plasma"\ngrade = "mild steel"\nthickness = "6 mm"\namperage = "45 A"\nkerf = "1.5 mm"\n'
        'cut_speed = "1500 mm/min"\n[[size]]\nkey = "A_top"\nwhat = "square"\nkind = "outside"\nasked = "80 mm"\nkerf = "1.5 mm"\n[measured]\nA_top = ["80.3 mm"]\n'
    )


def dxf() -> bytes:
    from tests.pattern.drawing_files import bare_dxf

    rows = []
    for a, b in (((0, 0), (90, 0)), ((90, 0), (90, 50)), ((90, 50), (0, 50)), ((0, 50), (0, 0))):
        rows += ["0", "LINE", "8", "0", "10", str(a[0]), "20", str(a[1]), "11", str(b[0]), "21", str(b[1])]
    return bare_dxf([*rows, "0", "CIRCLE", "8", "0", "10", "20", "20", "20", "40", "5"])


SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="50mm" viewBox="0 0 90 50"><g transform="translate(1 2)"><path d="M0 0H90V50L0 50Z"/><circle cx="20" cy="20" r="5"/><use href="#a"/></g></svg>'  # fmt: skip


@cache
def backup_file() -> bytes:
    from platewright.shop.folder.backup import back_up
    from platewright.shop.folder.store import Shop

    with tempfile.TemporaryDirectory() as home, Shop(Path(home) / "shop") as shop:
        shop.put_file(b"photo" * 100, name="p.jpg", media="image/jpeg")
        return back_up(shop, Path(home) / "x.zip").path.read_bytes()


@cache
def photos() -> tuple[bytes, ...]:
    """One small picture in each form a camera or a phone writes, with notes on its lens."""
    import numpy as np
    from PIL import Image

    rows = np.mgrid[0:240, 0:320][0]
    plain = Image.fromarray(np.stack([rows, rows, 255 - rows], axis=-1).astype(np.uint8))
    notes = plain.getexif()
    notes[0x0112] = 6
    notes.get_ifd(0x8769)[0xA405] = 26
    made = [_written(plain, form, exif=notes.tobytes(), dpi=(300, 300)) for form in ("JPEG", "PNG", "WEBP")]
    made.append(_written(plain, "JPEG", progressive=True))
    made.append(_written(plain.convert("P"), "PNG", transparency=3))
    heic = Path(__file__).resolve().parents[2] / "tests/pattern/data/tab_lying.heic"
    return (*made, heic.read_bytes())


def _written(picture: Any, form: str, **more: Any) -> bytes:
    held = io.BytesIO()
    picture.save(held, form, **more)
    return held.getvalue()
