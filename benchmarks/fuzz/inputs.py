"""Fuzz every reader and the whole API: no traceback, no 500, nothing over the caps of time and memory.

``readers``: documents, points, drawings, tables, charts, readings, rates, bills, jobs, quantities, families, operations and
backups, spoiled by value, by structure and by byte. ``api``: every route of the schema with values that fit, nearly fit, and
do not. Each input comes from a seed that is printed with what went wrong; the same seed gives the same input again.
A reader may give a result or an error of ours with a sentence; anything else is a traceback.
"""

from __future__ import annotations

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
from benchmarks.fuzz.asked import BYTES, SECONDS, asked
from benchmarks.fuzz.samples import SVG, backup_file, documents, dxf, job, photos
from benchmarks.fuzz.spoil import any_value, spoiled, torn
from platewright.errors import PlatewrightError

FIRST = int(os.environ.get("PLATEWRIGHT_SEED", "18000"))
"""The first seed [-]."""


def _through_json(kind: str, read: Callable[[Any], object]) -> Callable[[random.Random], object]:
    def fuzz(chance: random.Random) -> object:
        from platewright.documents import from_json

        document = spoiled(documents()[kind], chance)
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
            return _other_values(documents()[kind], chance, read)
        return read(torn(documents()[kind].encode(), chance).decode("utf-8", "surrogateescape"))

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
        return read_points(json.dumps(spoiled(documents()["points"], chance)).encode())
    return read_points(torn(documents()["csv"].encode(), chance))


def _drawing(chance: random.Random) -> object:
    from platewright.pattern.drawing.read import read_drawing

    data, name = (torn(dxf(), chance), "a.dxf") if chance.random() < 0.5 else (torn(SVG, chance), "a.svg")
    return read_drawing(data, name, units="mm" if chance.random() < 0.5 else None)


PIECES = ("1", "000", ",", ".", "'", '"', " ", "-", "/", "+", "mm", "in", "ft", "ga", "steel", "x", "%", "e", "\u00a0", "½", "M12", "deg", "Mm", "#", "_", "²", "\u0663", "\ud800", "\x1b")  # fmt: skip


def _quantity(chance: random.Random) -> object:
    from platewright import units
    from platewright.part.hole import read_hole
    from platewright.price.money import money
    from platewright.shop.typed import KINDS, understand

    text: Any = "".join(chance.choice(PIECES) for _ in range(chance.choice((1, 2, 3, 5, 8, 13, 60, 30_000))))
    if chance.random() < 0.2:
        text = any_value(chance)
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
        p.name: any_value(chance)
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
        f.name: any_value(chance)
        if chance.random() < 0.4
        else chance.choice((f.default, "10 mm", "30, 20 mm", "2"))
        for f in form.options
    }
    if chance.random() < 0.3:
        inputs |= {"edges": [{"at_mm": any_value(chance)}], "edge": {"at_mm": [40, 0]}}
    return _made({"kind": "family", "family": "gusset", "values": {}}, [{"op": form.name, "inputs": inputs}])


def _backup(chance: random.Random) -> object:
    from platewright.shop.folder.backup import put_back

    with tempfile.TemporaryDirectory() as home:
        data = torn(backup_file(), chance)
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


def _photo(chance: random.Random) -> object:
    from platewright.pattern.image import read_picture

    return read_picture(torn(chance.choice(photos()), chance))


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

    job = read_job(from_json(json.dumps(spoiled(documents()["job"], chance)), where="fuzz"))
    with tempfile.TemporaryDirectory() as home, Shop(Path(home) / "shop") as shop:
        return run(shop, job)


@cache
def _compiled() -> None:
    """Work one whole job, so that the loops are compiled before times are taken."""
    from platewright.shop.document import read_job
    from platewright.shop.folder.store import Shop
    from platewright.shop.pipeline import run

    with tempfile.TemporaryDirectory() as home, Shop(Path(home) / "shop") as shop:
        states = run(shop, read_job(documents()["job"]))
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
                kept = page.post("/api/jobs", json={"document": job()}, headers={"X-Platewright": "1"})
                known.append(kept.json()["id"])
            chance = random.Random(f"api {seed}")
            path, method = chance.choice(routes)
            yield seed, asked(page, schema, path, method, chance, known)
            if path == "/api/restore":
                known.clear()  # another shop may stand in this one's place


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
