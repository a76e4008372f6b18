"""Old results are cleared out by rule; what anything names, and what a person added, stays."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from platewright.shop.document import JobDocument, PartEntry, read_job
from platewright.shop.folder.store import Shop
from platewright.shop.line import line_of
from platewright.shop.pipeline import facts_of, run
from platewright.shop.sources import DrawingSource
from platewright.shop.tidy import tidy

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="40mm" viewBox="0 0 80 40"><path d="M0 0H80V40H0Z"/></svg>'


class Clock:
    def __init__(self) -> None:
        self.at = datetime(2031, 3, 1, tzinfo=UTC)

    def __call__(self) -> str:
        return self.at.isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def later(self, days: float) -> None:
        self.at += timedelta(days=days)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def shop(tmp_path: Path, clock: Clock) -> Any:
    with Shop(tmp_path / "shop", now=clock) as made:
        yield made


def worked(shop: Shop, name: str, drawing: str, ident: str = "a") -> JobDocument:
    part = PartEntry(id="p", name="plate", source=DrawingSource(file=drawing, name="a.svg"))
    document = JobDocument(name=name, parts=[part])
    document.layout.seconds = 0.0
    shop.save("job", ident, document.model_dump(mode="json"))
    run(shop, document)
    return document


def keys(shop: Shop) -> set[str]:
    return {r["key"] for r in shop.database.connection().execute("SELECT key FROM results")}


def files(shop: Shop) -> set[str]:
    return {r["sha256"] for r in shop.database.connection().execute("SELECT sha256 FROM files")}


def test_nothing_anything_names_is_removed_and_the_rest_goes(shop: Shop, clock: Clock) -> None:
    drawing = shop.put_file(SVG, name="a.svg", media="text/plain").sha256
    unused = shop.put_file(b"added, never used", name="b.txt", media="text/plain").sha256
    worked(shop, "first name", drawing)
    first_files = files(shop)
    clock.later(1)
    worked(shop, "second name", drawing)
    put_away = worked(shop, "put away", drawing, "b")
    shop.remove("job", "b")
    # a paper issued long ago names a program of the first revision
    old_program = next(f for f in sorted(first_files) if f not in (drawing, unused))
    shop.save("ledger", "x", {"paper": old_program})
    assert (tidy(shop, most=0).results, len(keys(shop)) > 0) == (0, True)  # all of it is fresh

    clock.later(100)
    before = keys(shop)
    done = tidy(shop, most=0)
    heads = [read_job(shop.load("job", ident).doc) for ident in "ab"]
    current = {k.key for one in heads for k in line_of(one, facts_of(shop))}
    assert keys(shop) == before & current
    assert current <= before
    assert done.results == len(before - current) > 0
    assert done.files > 0
    for sha in files(shop):
        shop.file(sha)  # every recorded file is there and true to its hash
    assert {drawing, unused, old_program} <= files(shop)
    named = {f["sha256"] for key in keys(shop) for f in (shop.result(key) or {}).get("files", [])}
    assert named <= files(shop)
    assert heads[1] == put_away


def test_a_revision_saved_lately_keeps_its_results_for_undo(shop: Shop, clock: Clock) -> None:
    drawing = shop.put_file(SVG, name="a.svg", media="text/plain").sha256
    worked(shop, "first name", drawing)
    clock.later(100)
    shop.save("job", "a", JobDocument(name="second name").model_dump(mode="json"))
    clock.later(10)
    shop.save("job", "a", JobDocument(name="third name").model_dump(mode="json"))
    assert tidy(shop, most=0).results > 0  # the first was saved 110 days ago
    assert tidy(shop, most=0).results == 0
    worked(shop, "fourth name", drawing)
    clock.later(100)
    shop.save("job", "a", JobDocument(name="fifth name").model_dump(mode="json"))
    fresh = JobDocument.model_validate(shop.load("job", "a", number=4).doc)
    shop.save("job", "a", fresh.model_dump(mode="json"))  # brought back as revision 6, then left again
    shop.save("job", "a", JobDocument(name="seventh name").model_dump(mode="json"))
    assert tidy(shop, most=0).results == 0
    shop.undo("job", "a")
    assert all(shop.result(k.key) for k in line_of(fresh, facts_of(shop)))


def test_room_may_still_be_taken_and_the_oldest_go_first(shop: Shop, clock: Clock) -> None:
    for n in range(4):
        shop.keep_result(f"{n}" * 8, step="x", doc={"n": "x" * 1000})
        clock.later(1)
    clock.later(100)
    assert tidy(shop).results == 0
    assert tidy(shop, most=2500).results == 2
    assert keys(shop) == {"2" * 8, "3" * 8}


def test_a_file_wanted_again_meanwhile_stays(shop: Shop, clock: Clock) -> None:
    made = shop.put_file(b"G21", name="a.ngc", media="text/plain").sha256
    shop.keep_result("k" * 8, step="x", doc={"file": made})
    clock.later(100)
    shop.blobs.path(made).unlink()  # a clear-out in another process is half way through
    assert shop.put_file(b"G21", name="a.ngc", media="text/plain").sha256 == made
    assert tidy(shop, most=0).files == 0
    assert shop.file(made) == b"G21"
