"""Fuzz every reader and the whole API: no traceback, no 500, nothing over the caps of time and memory.

``readers``: documents, points, drawings, tables, charts, readings, rates, bills, jobs, quantities, families, operations and
backups, spoiled by value, by structure and by byte. ``api``: every route of the schema with values that fit, nearly fit, and
do not. Each input comes from a seed that is printed with what went wrong; the same seed gives the same input again.
A reader may give a result or an error of ours with a sentence; anything else is a traceback.
"""

from __future__ import annotations

import copy
import io
import json
import math
import os
import random
import resource
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

from benchmarks.figure import Figure
from platewright.errors import PlatewrightError

SECONDS, BYTES = 12.0, 1_000_000_000
"""Most processor time [s] and memory beyond the start [bytes] of one input; the time of a busy machine, whose processors count the\nsame work nearly double."""
FIRST = int(os.environ.get("PLATEWRIGHT_SEED", "18000"))
"""The first seed [-]."""
HOSTILE: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2, 2**31, 2**63, 2**64, -(2**70), 10**30, 0.5, -0.0, 1e-300, 1e300, math.nan, math.inf, "", " ", "0", "-1", "six", "1,000 mm",
    "3/8", "5'6", "1e999", "9" * 400, "x" * 3000, "\ud800", "\x00", "\x1b[2J", "\u202e", "../../etc", "=1+1", "'; DROP TABLE jobs", "M12", "5 mm", "6 mm", "45 deg",
    [], [[]], [[[[]]]], [None], [1, 2], ["a"], [1, 2, 3], {}, {"a": 1}, {"kind": "circle"}, {"": None},
)  # fmt: skip


def _deep(chance: random.Random) -> Any:
    made: Any = 1
    for _ in range(chance.choice((5, 50, 400))):
        made = [made] if chance.random() < 0.5 else {"a": made}
    return made


def _value(chance: random.Random) -> Any:
    return _deep(chance) if chance.random() < 0.02 else copy.deepcopy(chance.choice(HOSTILE))


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    found = [path] if path else []
    items = (
        value.items() if isinstance(value, dict) else enumerate(value[:6]) if isinstance(value, list) else ()
    )
    for key, inner in items:
        found += _places(inner, (*path, key))
    return found


def spoiled(document: Any, chance: random.Random) -> Any:
    """Return a document with one to three of its values replaced, removed or doubled (no unit [-])."""
    made = copy.deepcopy(document)
    for _ in range(chance.randint(1, 3)):
        paths = _places(made)
        if not paths:
            return _value(chance)
        *before, last = chance.choice(paths)
        spot = made
        for key in before:
            spot = spot[key]
        act = chance.random()
        if act < 0.15:
            del spot[last]
        elif act < 0.25 and isinstance(spot, list):
            spot.insert(last, copy.deepcopy(spot[last]))
        elif act < 0.3 and isinstance(spot, dict):
            spot[f"{last}x"] = spot.pop(last)
        else:
            spot[last] = _value(chance)
    return made


def torn(data: bytes, chance: random.Random) -> bytes:
    """Return bytes cut, doubled, overwritten or sewn together anew (no unit [-])."""
    made = bytearray(data)
    for _ in range(chance.randint(1, 4)):
        at, to = sorted(chance.randrange(len(made) + 1) for _ in range(2))
        act = chance.random()
        if act < 0.2:
            del made[at : min(to, at + 40)]
        elif act < 0.35:
            made[at:at] = made[at : min(to, at + 60)] * chance.choice((1, 2, 20))
        elif act < 0.7 and made:
            made[at % len(made)] = chance.choice(
                (0, 9, 10, 34, 39, 44, 45, 46, 48, 57, 61, 91, 93, 101, 123, 255, chance.randrange(256))
            )
        elif act < 0.9:
            made[at:at] = chance.choice(
                (b"1e999", b"nan", b"-", b"9" * 300, b"\xff\xfe", b"\n\n", b"[[", b"'''", b"0 0 0 0 ")
            )
        else:
            del made[to:]
    return bytes(made)


# -- what is read -----------------------------------------------------------------------------


@cache
def _documents() -> dict[str, Any]:
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
        "part": part.as_dict(), "plate": layout.plate.as_dict(), "layout": layout.as_dict(), "job": _job(),
        "points": {"unit": "mm", "habit": "auto", "loops": [[[0, 0], [90, 0], [90, 50], [0, 50]]], "holes": [{"x": 20, "y": 20, "diameter": 9}]},
        "chart": chart[: chart.index("[[row]]", 900)], "table": _table(), "csv": "x,y,loop\n0,0,1\n90,0,1\n90,50,1\n0,50,1\nhole,20,20,9\n",
        "rates": 'steel_per_kg = "2.40"\nmargin_share = "0.30"\ncurrency = "EUR"\n', "bills": "rate,amount,quantity\nsteel_per_kg,100.00,40\n",
        "readings": _readings(),
    }  # fmt: skip


def _job() -> dict[str, Any]:
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


def _dxf() -> bytes:
    from tests.pattern.drawing_files import bare_dxf

    rows = []
    for a, b in (((0, 0), (90, 0)), ((90, 0), (90, 50)), ((90, 50), (0, 50)), ((0, 50), (0, 0))):
        rows += ["0", "LINE", "8", "0", "10", str(a[0]), "20", str(a[1]), "11", str(b[0]), "21", str(b[1])]
    return bare_dxf([*rows, "0", "CIRCLE", "8", "0", "10", "20", "20", "20", "40", "5"])


SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="50mm" viewBox="0 0 90 50"><g transform="translate(1 2)"><path d="M0 0H90V50L0 50Z"/><circle cx="20" cy="20" r="5"/><use href="#a"/></g></svg>'  # fmt: skip


def _through_json(kind: str, read: Callable[[Any], object]) -> Callable[[random.Random], object]:
    def fuzz(chance: random.Random) -> object:
        from platewright.documents import from_json

        document = spoiled(_documents()[kind], chance)
        text = json.dumps(document)
        if chance.random() < 0.3:
            text = torn(text.encode(), chance).decode("utf-8", "surrogateescape")
        return read(from_json(text, where="fuzz"))

    return fuzz


def _object(document: Any) -> Any:
    from platewright.errors import InputError

    if not isinstance(document, dict):
        raise InputError("This JSON is not a document (an object).")
    return document


def _read_job(document: Any) -> object:
    from platewright.shop import values
    from platewright.shop.document import read_job
    from platewright.shop.forms.burn import read_options
    from platewright.shop.steps.paper import quantities_of

    job = read_job(document)
    made: list[object] = [
        values.plate_of(job.plate),
        values.keepouts_of(job.keepouts),
        values.clearance_of(job.layout, None),
    ]
    made += [
        read_options(job.burn.options, where="burn"),
        values.rates_of({}, job.price.rates),
        quantities_of(job.price.quantities),
    ]
    for part in job.parts:
        made.append(_made(part.source.model_dump(), [o.model_dump() for o in part.operations]))
    return made


def _made(source: dict[str, Any], operations: list[dict[str, Any]]) -> object:
    from platewright.part.families import make
    from platewright.part.replay import replay
    from platewright.shop.forms.operations import read_inputs

    part = (
        make(source.get("family", "gusset"), source.get("values", {}), called="x")
        if source["kind"] == "family"
        else make("gusset", {})
    )
    steps = [
        {"op": o["op"], "inputs": read_inputs(o["op"], o["inputs"], where=f"operations.{n}")}
        for n, o in enumerate(operations)
    ]
    return replay([*part.steps, *steps], part) if steps else part


def _text(kind: str, read: Callable[[str], object]) -> Callable[[random.Random], object]:
    def fuzz(chance: random.Random) -> object:
        if kind in ("table", "chart", "readings", "rates") and chance.random() < 0.6:
            return _other_values(_documents()[kind], chance, read)
        return read(torn(_documents()[kind].encode(), chance).decode("utf-8", "surrogateescape"))

    return fuzz


def _other_values(text: str, chance: random.Random, read: Callable[[str], object]) -> object:
    """Let a reader of TOML find other values than the text holds."""
    import tomllib
    from unittest import mock

    from platewright import documents
    from platewright.table import settings

    values = spoiled(tomllib.loads(text), chance)
    if not isinstance(values, dict):
        values = {"": values}

    def found(*_: object, **__: object) -> dict[str, Any]:
        return values

    with mock.patch.object(settings, "from_toml", found), mock.patch.object(documents, "from_toml", found):
        return read(text)


def _points(chance: random.Random) -> object:
    from platewright.pattern.points import read_points

    if chance.random() < 0.5:
        return read_points(json.dumps(spoiled(_documents()["points"], chance)).encode())
    return read_points(torn(_documents()["csv"].encode(), chance))


def _drawing(chance: random.Random) -> object:
    from platewright.pattern.drawing.read import read_drawing

    data, name = (torn(_dxf(), chance), "a.dxf") if chance.random() < 0.5 else (torn(SVG, chance), "a.svg")
    return read_drawing(data, name, units="mm" if chance.random() < 0.5 else None)


PIECES = ("1", "000", ",", ".", "'", '"', " ", "-", "/", "+", "mm", "in", "ft", "ga", "steel", "x", "%", "e", "\u00a0", "½", "M12", "deg", "Mm", "#", "_", "²", "\u0663", "\ud800", "\x1b")  # fmt: skip


def _quantity(chance: random.Random) -> object:
    from platewright import units
    from platewright.part.hole import read_hole
    from platewright.price.money import money
    from platewright.shop.typed import KINDS, understand

    text: Any = "".join(chance.choice(PIECES) for _ in range(chance.choice((1, 2, 3, 5, 8, 13, 60, 30_000))))
    if chance.random() < 0.2:
        text = _value(chance)
    work: list[Callable[[], object]] = [
        lambda: units.parse(text, chance.choice(list(units.HOUSE)), unit=chance.choice((None, "mm", "in"))), lambda: units.whole_number(text),
        lambda: units.parse_pair(str(text)), lambda: units.parse_place(str(text), unit="mm"), lambda: money(text), lambda: read_hole(text if isinstance(text, str) else str(text)),
        lambda: understand(str(text), chance.choice(KINDS), metal=chance.choice(("", "mild steel", "x"))), lambda: units.plain_number(str(text)),
    ]  # fmt: skip
    return chance.choice(work)()


def _family(chance: random.Random) -> object:
    from platewright.part.families import families

    one = chance.choice(list(families().values()))
    stated = {
        p.name: _value(chance)
        if chance.random() < 0.3
        else f"{chance.choice((0, 1, 5, 20, 80, 300, 1e5)):g} mm"
        for p in one.parameters
        if chance.random() < 0.4
    }
    return _made({"kind": "family", "family": one.name, "values": stated}, [])


def _operation(chance: random.Random) -> object:
    from platewright.shop.forms.operations import FORMS

    form = chance.choice(list(FORMS.values()))
    inputs = {
        f.name: _value(chance)
        if chance.random() < 0.4
        else chance.choice((f.default, "10 mm", "30, 20 mm", "2"))
        for f in form.fields
    }
    if chance.random() < 0.3:
        inputs |= {"edges": [{"at_mm": _value(chance)}], "edge": {"at_mm": [40, 0]}}
    return _made({"kind": "family", "family": "gusset", "values": {}}, [{"op": form.op, "inputs": inputs}])


@cache
def _box() -> bytes:
    from platewright.shop.folder.backup import back_up
    from platewright.shop.folder.store import Shop

    with tempfile.TemporaryDirectory() as home, Shop(Path(home) / "shop") as shop:
        shop.put_file(b"photo" * 100, name="p.jpg", media="image/jpeg")
        return back_up(shop, Path(home) / "x.zip").path.read_bytes()


def _backup(chance: random.Random) -> object:
    from platewright.shop.folder.backup import put_back

    with tempfile.TemporaryDirectory() as home:
        data = torn(_box(), chance)
        if chance.random() < 0.3:
            held = io.BytesIO()
            with zipfile.ZipFile(held, "w") as box:
                box.writestr(
                    chance.choice(("shop.sqlite", "../x", "files/ab/c", "x")),
                    os.urandom(9000) if chance.random() < 0.5 else b"",
                )
            data = held.getvalue()
        (Path(home) / "x.zip").write_bytes(data)
        return put_back(Path(home) / "x.zip", Path(home) / "again")


@cache
def _photos() -> tuple[bytes, ...]:
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


def _photo(chance: random.Random) -> object:
    from platewright.pattern.image import read_picture

    return read_picture(torn(chance.choice(_photos()), chance))


def _font(chance: random.Random) -> object:
    from importlib.resources import files

    from platewright.pattern.letters.font import SHIPPED, read_font
    from platewright.pattern.letters.setting import Setting, set_text

    name = chance.choice(list(SHIPPED.values()))
    data = files("platewright.pattern.letters").joinpath("fonts", name).read_bytes()
    return set_text("Ag&8", read_font(torn(data, chance)), Setting(height=40.0))


def _line(chance: random.Random) -> object:
    """Work every station of a spoiled job, from part to price."""
    from platewright.documents import from_json
    from platewright.shop.document import read_job
    from platewright.shop.folder.store import Shop
    from platewright.shop.pipeline import run

    job = read_job(from_json(json.dumps(spoiled(_documents()["job"], chance)), where="fuzz"))
    with tempfile.TemporaryDirectory() as home, Shop(Path(home) / "shop") as shop:
        return run(shop, job)


@cache
def _compiled() -> None:
    """Work one whole job, so that the loops are compiled before times are taken."""
    from platewright.shop.document import read_job
    from platewright.shop.folder.store import Shop
    from platewright.shop.pipeline import run

    with tempfile.TemporaryDirectory() as home, Shop(Path(home) / "shop") as shop:
        states = run(shop, read_job(_documents()["job"]))
        if any(s.state != "done" for s in states):
            raise SystemExit(
                f"the job to be spoiled is not worked whole: {[(s.step.id, s.state) for s in states]}"
            )


def _readers() -> dict[str, tuple[Callable[[random.Random], object], int]]:
    """Return each reader with its share of the inputs [-]."""
    from platewright.layout.model import Layout
    from platewright.part.model import Part
    from platewright.price.cost import Rates
    from platewright.price.measured import bills_from_csv
    from platewright.stock.model import Plate
    from platewright.table.chart_file import read_chart
    from platewright.table.profile import load_table
    from platewright.tuning.readings import read as read_readings

    def rates(text: str) -> object:
        from platewright.documents import from_toml

        return Rates.from_dict(from_toml(text, where="rates"), where="rates")

    return {
        "part": (_through_json("part", lambda d: Part.from_dict(_object(d))), 10), "plate": (_through_json("plate", lambda d: Plate.from_dict(_object(d))), 10),
        "layout": (_through_json("layout", lambda d: Layout.from_dict(_object(d))), 10), "job": (_through_json("job", _read_job), 14),
        "points": (_points, 10), "drawing": (_drawing, 10), "table": (_text("table", lambda t: load_table(t, where="table")), 5),
        "chart": (_text("chart", read_chart), 5), "readings": (_text("readings", read_readings), 5), "rates": (_text("rates", rates), 3),
        "bills": (_text("bills", bills_from_csv), 3), "quantity": (_quantity, 10), "family": (_family, 3), "operation": (_operation, 6), "backup": (_backup, 1),
        "photo": (_photo, 10), "font": (_font, 4), "line": (_line, 4),
    }  # fmt: skip


def read_one(name: str, seed: int) -> str:
    """Read the input of a seed; return "" or what went wrong: a traceback's last lines, or a cap passed [s, bytes]."""
    fuzz = _readers()[name][0]
    if name == "line":
        _compiled()
    base, begun = _memory(), time.process_time()
    try:
        fuzz(random.Random(f"{name} {seed}"))
    except PlatewrightError as told:
        if len(told.sentence()) > 3500 or not told.sentence().isprintable():
            return "a sentence that cannot be shown"
    except Exception as wrong:  # noqa: BLE001 - this is what is looked for
        spot = traceback.extract_tb(wrong.__traceback__)[-1]
        return f"{type(wrong).__name__} at {Path(spot.filename).name}:{spot.lineno}"
    took, more = time.process_time() - begun, _memory() - base
    return f"{took:.1f} s" if took > SECONDS else f"{more / 1e6:.0f} MB" if more > BYTES else ""


def _memory() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)


def readers(*, quick: bool = False, first: int = FIRST) -> Iterable[Figure]:
    """Yield the figure of all readers."""
    total = 2_000 if quick else 20_000
    every = _readers()
    shares = sum(share for _, share in every.values())
    wrong: Counter[str] = Counter()
    count = 0
    for name, (_, share) in every.items():
        for seed in range(first, first + math.ceil(total * share / shares)):
            count += 1
            if said := read_one(name, seed):
                wrong[f"{name} {said}"] += 1
                print(f"{name} seed {seed}: {said}", file=sys.stderr)
    yield _figure("fuzz: readers", count, wrong, f"seeds from {first}, a reader each")


# -- the API ----------------------------------------------------------------------------------

ENDLESS = "/api/events"
"""A stream that does not end by itself: not asked here."""


def api(*, quick: bool = False, first: int = FIRST) -> Iterable[Figure]:
    """Yield the figure of every route of the API."""
    total = 500 if quick else 5_000
    wrong: Counter[str] = Counter()
    with tempfile.TemporaryDirectory() as home:
        for seed, said in requests(Path(home), range(first, first + total)):
            if said:
                wrong[said] += 1
                print(f"api seed {seed}: {said}", file=sys.stderr)
    yield _figure("fuzz: requests", total, wrong, f"seeds from {first}")


def requests(home: Path, seeds: Iterable[int]) -> Iterable[tuple[int, str]]:
    """Send the request of each seed to a shop of its own; yield the seed, and what was wrong or "" [s]."""
    import warnings

    from platewright.web.app import create_app, local_hosts

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from fastapi.testclient import TestClient
    app = create_app(home / "shop", hosts=local_hosts(8730))
    schema = app.openapi()
    routes = sorted(
        (path, method) for path, whole in schema["paths"].items() for method in whole
        if path != ENDLESS
    )  # fmt: skip
    with TestClient(
        app, base_url="http://localhost:8730", client=("127.0.0.1", 5000), raise_server_exceptions=False
    ) as page:
        known: list[str] = []
        for seed in seeds:
            if not known:
                kept = page.post("/api/jobs", json={"document": _job()}, headers={"X-Platewright": "1"})
                known.append(kept.json()["id"])
            chance = random.Random(f"api {seed}")
            path, method = chance.choice(routes)
            yield seed, _asked(page, schema, path, method, chance, known)
            if path == "/api/restore":
                known.clear()  # another shop may stand in this one's place


def _asked(
    page: Any, schema: dict[str, Any], path: str, method: str, chance: random.Random, known: list[str]
) -> str:
    from urllib.parse import quote

    route = schema["paths"][path][method]
    names = [p["name"] for p in route.get("parameters", []) if p["in"] == "path"]
    filled = path
    for name in names:
        value = chance.choice(known) if chance.random() < 0.6 else str(_value(chance))[:200]
        filled = filled.replace(f"{{{name}}}", quote(value.encode("utf-8", "replace"), safe="") or "x")
    query = {
        p["name"]: str(_value(chance))[:500].encode("utf-8", "replace").decode() for p in route.get("parameters", [])
        if p["in"] == "query" and chance.random() < 0.7
    }  # fmt: skip
    more: dict[str, Any] = {"params": query, "headers": {"X-Platewright": "1"}}
    content = route.get("requestBody", {}).get("content", {})
    if "application/json" in content:
        body = _like(content["application/json"]["schema"], schema, chance)
        more["content"] = json.dumps(spoiled(body, chance) if chance.random() < 0.7 else body).encode()
        if chance.random() < 0.1:
            more["content"] = torn(more["content"], chance)
        more["headers"]["Content-Type"] = "application/json"
    elif path == "/api/restore":
        more["params"] = {"how": chance.choice(("beside", "replace", "x"))}
        more["content"] = torn(_box(), chance) if chance.random() < 0.8 else _box()
    elif content:
        more["files"] = {
            "file": (
                chance.choice(("a.dxf", "a.svg", "a.csv", "\x1b.jpg", "x" * 300 + ".json")),
                torn(chance.choice((_dxf(), SVG, b"1,2\n3,4", b"\xff\xd8\xff")), chance),
            )
        }
    begun = time.process_time()
    answer = page.request(method.upper(), filled, **more)
    took = time.process_time() - begun
    if answer.status_code >= 500 and answer.status_code != 503:
        return f"{method} {path}: {answer.status_code} {answer.text[:200]}"
    return f"{method} {path}: {took:.1f} s" if took > SECONDS else ""


def _like(shape: dict[str, Any], schema: dict[str, Any], chance: random.Random, depth: int = 0) -> Any:
    """Return a value that fits a schema, as far as its form goes (no unit [-])."""
    if "$ref" in shape:
        name = shape["$ref"].rpartition("/")[2]
        if name == "JobDocument" and chance.random() < 0.7:
            return _job()
        return _like(schema["components"]["schemas"][name], schema, chance, depth + 1)
    for word in ("anyOf", "oneOf", "allOf"):
        if word in shape:
            return _like(chance.choice(shape[word]), schema, chance, depth + 1)
    if "enum" in shape or "const" in shape:
        return chance.choice(shape.get("enum", [shape.get("const")]))
    kind = shape.get("type")
    if kind == "object":
        wanted = shape.get("properties", {})
        return {
            k: _like(v, schema, chance, depth + 1)
            for k, v in wanted.items()
            if depth < 6 and (k in shape.get("required", ()) or chance.random() < 0.5)
        }
    if kind == "array":
        if "prefixItems" in shape:
            return [_like(one, schema, chance, depth + 1) for one in shape["prefixItems"]]
        return [
            _like(shape.get("items", {}), schema, chance, depth + 1)
            for _ in range(max(shape.get("minItems", 0), chance.choice((0, 1, 2))) if depth < 6 else 0)
        ]
    plain = {
        "string": ("a", "6 mm", "10", ""),
        "integer": (0, 1, 2, 7),
        "number": (0.0, 1.5, 40.0),
        "boolean": (True, False),
    }
    return chance.choice(plain[kind]) if kind in plain else _value(chance)


def _figure(name: str, count: int, wrong: Counter[str], note: str) -> Figure:
    ours = "0 tracebacks, 0 over" if not wrong else f"{wrong.total()} wrong"
    more = f": {'; '.join(k for k, _ in wrong.most_common(3))}"[:300] if wrong else ""
    return Figure(
        name=f"{name}, {count}",
        ours=ours,
        bar=f"a sentence, {SECONDS:g} s, 1 GB",
        holds=not wrong,
        note=note + more,
    )


PARTS = {"readers": readers, "api": api}


def figures(*, quick: bool = False) -> Iterable[Figure]:
    """Yield all figures."""
    yield from readers(quick=quick)
    yield from api(quick=quick)
