"""A photo of a cut part over the API: compared with the job's part, reported, its kerf offered and saved."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from examples.camera.render import cached
from examples.camera.scene import random_scene

from platewright.geometry import Contour, Profile, flatten
from platewright.shop.context import JobContext
from platewright.shop.document import read_job
from platewright.shop.folder.store import Shop
from platewright.shop.pipeline import facts_of, run
from tests.web.helpers import SCRIPT, TestClient, client, document

CACHE = Path(__file__).parents[1] / ".cache"


def cut_photo(profile: Profile, kerf: float) -> bytes:
    """Photograph a part cut with a kerf too wide [mm]: shapely takes half of it off every edge."""
    rings = [flatten(c, tolerance=0.01) for c in profile.contours()]
    piece = shapely.Polygon(rings[0], rings[1:]).buffer(-kerf / 2, join_style="mitre")
    outer = Contour.from_points(np.asarray(shapely.orient_polygons(piece).exterior.coords)[:-1])
    holes = [Contour.from_points(np.asarray(r.coords)[:-1]) for r in shapely.orient_polygons(piece).interiors]
    scene = random_scene(5, bench="painted", profile=Profile(outer, tuple(holes)), board=6.0, offcuts=False)
    return cached(replace(scene, template="steel"), CACHE)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[tuple[TestClient, str, bytes]]:
    with Shop(tmp_path / "shop") as folder:
        job = folder.create(
            "job", document(plate={"size": "600 x 400 mm"}, burn={"options": {"amperage": 45.0}})
        )
        run(folder, read_job(job.doc), until="layout")
        part = JobContext(folder, read_job(job.doc), facts_of(folder)).part("gus")
    with client(tmp_path / "shop") as one:
        one.headers.update(SCRIPT)
        yield one, job.info.id, cut_photo(part.profile, 0.4)


def test_a_cut_part_is_checked_and_its_kerf_saved(shop: tuple[TestClient, str, bytes]) -> None:
    web, job, photo = shop
    kept = web.post(
        "/api/files", files={"file": ("cut.jpg", photo, "image/jpeg")}, data={"name": "cut.jpg"}
    ).json()
    requested = {"job": job, "part": "gus", "photo": kept["sha256"], "bars": ["180 mm", "200 mm"]}
    answer = web.post("/api/tune/check", json=requested)
    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert found["kerf"]["before"] == "1.59 mm"
    assert float(found["kerf"]["after"].split()[0]) == pytest.approx(1.99, abs=0.06)
    assert {f["role"] for f in found["files"]} == {"check-report", "check-picture"}
    assert {"width", "height"} <= {s["name"] for s in found["sizes"]}
    saved = web.post("/api/tune/check", json=requested | {"save_as": "by photo"}).json()
    assert saved["saved"] == "by photo"
    toml = web.get("/api/charts").json()[0]["toml"]
    assert "kerf by photo" in toml
    # this gusset looks the same from both faces: the same photo twice is a part with square edges
    both = web.post("/api/tune/check", json=requested | {"under": kept["sha256"]}).json()
    leaning = [line for line in both["lines"] if "over the thickness" in line]
    assert len(leaning) == 2
    assert all("not surely leaning" in line for line in leaning)
    assert not any("over the thickness" in line for line in found["lines"])
    half = web.post("/api/tune/check", json=requested | {"bars": ["180 mm", ""]})
    assert half.status_code == 422
    assert "Only one of the two check bars" in half.json()["what"]
