"""Points from a probe over HTTP: drawn as they come, undone, kept as a file a part is made of."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from platewright.pattern.points import read_points
from tests.web.helpers import SCRIPT, client

SQUARE = [(0.0, 0.0), (50.0, 0.0), (50.0, 30.0), (0.0, 30.0)]


def test_points_come_go_and_are_kept(tmp_path: Path) -> None:
    with client(tmp_path / "shop") as api:
        api.headers.update(SCRIPT)
        job = api.post("/api/jobs", json={}).json()["id"]
        at = f"/api/jobs/{job}/probe"
        assert api.get(at).json()["loops"] == [0]
        for point in SQUARE:
            shown = api.post(at, json={"points": [point]}).json()
        assert (shown["loops"], shown["last"]) == ([4], [0.0, 30.0])
        assert api.post(at, json={"points": [[99, 99], [98, 98]]}).json()["loops"] == [6]
        shown = api.post(at, json={"undo": 2}).json()
        assert [i["spot"] for i in shown["scene"]["items"] if i["kind"] == "corner"] == [
            [x, -y] for x, y in SQUARE
        ]
        assert api.post(at, json={"next_loop": True, "hole": [25, 15, 10]}).json()["holes"] == 1
        assert api.post(at, json={"points": [["nan", 1]]}).status_code == 422
    with client(tmp_path / "shop") as api:  # the server was started anew
        api.headers.update(SCRIPT)
        kept = api.post(f"{at}/keep").json()
        found = read_points(api.get(f"/api/files/{kept['sha256']}").content)
        assert found.outer is not None
        assert np.ptp(found.outer.points, axis=0).tolist() == [50.0, 30.0]
        (hole,) = found.holes
        assert np.ptp(hole.points, axis=0) == pytest.approx([10.0, 10.0], abs=0.1)
        assert api.get(at).json()["loops"] == [0]
        assert api.post("/api/jobs/none/probe", json={}).status_code == 404


def test_a_probe_that_works_in_inches_is_drawn_true(tmp_path: Path) -> None:
    with client(tmp_path / "shop") as api:
        api.headers.update(SCRIPT)
        job = api.post("/api/jobs", json={}).json()["id"]
        shown = api.post(f"/api/jobs/{job}/probe", json={"unit": "in", "points": [[1, 2]]}).json()
        assert shown["last"] == [1.0, 2.0]
        assert [i["spot"] for i in shown["scene"]["items"] if i["kind"] == "corner"] == [[25.4, -50.8]]
