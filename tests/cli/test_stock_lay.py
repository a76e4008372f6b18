"""Plates and layouts by the command line."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from platewright.cli import main
from platewright.layout.check import check
from platewright.layout.model import Layout
from platewright.stock.model import Plate
from platewright.table.chart import starter_chart
from platewright.table.profile import load_table
from tests.cli.helpers import Shell, save_part


def a_drop(shell: Shell) -> None:
    assert (
        shell(
            "stock",
            "drop",
            "--size",
            "600 x 400 mm",
            "--thickness",
            "6 mm",
            "--hole",
            "old hole @ 450,300 mm d 100 mm",
            "-o",
            "d.plate.json",
        )
        == 0
    )


@pytest.mark.published
def test_a_drop_weighs_what_it_should(shell: Shell) -> None:
    """(0.24 m² - π·0.05² m²) × 6 mm × 7.85 kg/m² per mm = 10.934 kg (7850 kg/m³, handbook, confirmed)."""
    a_drop(shell)
    assert "10.9 kg" in shell.out
    assert "47.1 kg/m²" in shell.out
    document = json.loads(Path("d.plate.json").read_text())
    assert (document["kind"], document["thickness_mm"], len(document["profile"]["holes"])) == ("drop", 6.0, 1)


def test_gauges_use_the_grades_own_table(shell: Shell) -> None:
    """16 ga: steel 0.0598 in, aluminium 0.0508 in (Manufacturers' Standard Gage; American wire gauge; confirmed)."""
    for grade, inch in (("mild steel", 0.0598), ("aluminium", 0.0508)):
        made = shell.document(
            "stock", "sheet", "--size", "4x8", "--thickness", "16 ga", "--grade", grade, "-o", "s.plate.json"
        )
        assert made["thickness_mm"] == pytest.approx(inch * 25.4, abs=2e-3)


def test_a_layout_places_pairs_and_draws(shell: Shell) -> None:
    a_drop(shell)
    save_part(Path("tag.part.json"))
    made = shell.document(
        "lay",
        "d.plate.json",
        "tag.part.json:2:pairs",
        "--keepout",
        "magnet @ 60,60 mm d 60 mm",
        "--steps",
        "0",
        "--svg",
        "l.svg",
        "-o",
        "l.layout.json",
    )
    hands = [p["pose"]["mirrored"] for p in made["placements"]]
    assert sorted(hands) == [False, False, True, True]
    assert not [f for f in made["findings"] if f["severity"] == "stop"]
    assert Path("l.svg").read_text().startswith("<svg")
    assert shell("show", "l.layout.json") == 0
    assert "tag #1" in shell.out


def test_what_does_not_fit_is_reported_and_exits_1(shell: Shell) -> None:
    a_drop(shell)
    save_part(Path("big.part.json"), name="big", width=700, height=500)
    assert shell("lay", "d.plate.json", "big.part.json", "-o", "l.layout.json", "--steps", "0") == 1
    assert "did not fit" in shell.out
    assert "big" in shell.out


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["lay", "none.plate.json", "x.part.json", "-o", "l"], "no file"),
        (["lay", "d.plate.json", "d.plate.json", "-o", "l"], "This is a plate, not a part"),
        (["lay", "d.plate.json", "tag.part.json:0", "-o", "l"], "not a part and a quantity"),
        (["lay", "d.plate.json", "tag.part.json", "--keepout", "magnet", "-o", "l"], "not understood"),
        (["lay", "d.plate.json", "tag.part.json", "--clear", "5 kg", "-o", "l"], "--clear"),
        (["stock", "drop", "--size", "600 x 400 mm", "--thickness", "6", "-o", "d2"], "the unit is missing"),
        (["stock", "drop", "--size", "600 x 400", "--thickness", "6 mm", "-o", "d2"], "the unit is missing"),
        (
            ["stock", "sheet", "--size", "4x8", "--thickness", "16 ga", "-o", "d2"],
            "different thickness in each metal",
        ),
        (["stock", "drop", "--size", "600 x 400 mm", "--thickness", "6 mm", "-o", "none/d2"], "no folder"),
        (
            ["lay", "d.plate.json", "tag.part.json", "--keepout", "magnet @ 60,60 d 60 mm", "-o", "l"],
            "the unit is missing",
        ),
        (["stock", "drop", "--size", "600 x -400 mm", "--thickness", "6 mm", "-o", "d2"], "mm"),
        (["stock", "drop", "--thickness", "6 mm", "-o", "d2"], "exactly one of"),
        (["stock", "drop", "--outline", "0,0 10,0 mm", "--thickness", "6 mm", "-o", "d2"], "three corners"),
        (
            ["stock", "sheet", "--size", "4x8", "--thickness", "16 ga", "--grade", "wood", "-o", "d2"],
            "not known",
        ),
        (["show", "tag.svg"], "no file"),
    ],
)
def test_bad_input_gets_a_sentence_and_exit_2(words: list[str], text: str, shell: Shell) -> None:
    a_drop(shell)
    save_part(Path("tag.part.json"))
    code = shell(*words)
    assert code == 2
    assert text in shell.err
    assert "Traceback" not in shell.err


def test_the_error_is_a_document_too(shell: Shell) -> None:
    assert shell("show", "none.part.json", "--json") == 2
    assert json.loads(shell.out)["error"]["what"].startswith("There is no file")


def test_broken_json_names_line_and_column(shell: Shell) -> None:
    Path("x.part.json").write_text('{"format": \n oops}')
    assert shell("show", "x.part.json") == 2
    assert "x.part.json line 2 column 2" in shell.err


def test_drops_are_left(shell: Shell) -> None:
    a_drop(shell)
    save_part(Path("tag.part.json"))
    assert shell("lay", "d.plate.json", "tag.part.json:3", "-o", "l.layout.json", "--steps", "0") == 0
    assert shell("stock", "left", "l.layout.json", "-o", "left") == 0
    left = json.loads(Path("left-1.plate.json").read_text())
    assert left["kind"] == "drop"


def test_a_plate_remembers_and_is_held(shell: Shell) -> None:
    words = ["--size", "600 x 400 mm", "--thickness", "6 mm", "--grain", "90 deg", "--from", "barn door job"]
    made = shell.document("stock", "drop", *words, "-o", "d.plate.json")
    assert (made["grain_rad"], made["history"]) == (pytest.approx(1.5708, abs=1e-4), ["barn door job"])
    assert shell("stock", "hold", "d.plate.json", "--for", "west gate") == 0
    assert shell("stock", "hold", "d.plate.json", "--for", "plough") == 2
    assert "reserved for west gate" in shell.err
    assert shell("show", "d.plate.json") == 0
    assert "held for west gate" in shell.out
    assert "barn door job" in shell.out
    save_part(Path("tag.part.json"))
    assert shell("lay", "d.plate.json", "tag.part.json:3", "-o", "l.layout.json", "--steps", "0") == 0
    assert "held for west gate" in shell.out
    assert shell("stock", "left", "l.layout.json", "--for", "west gate", "-o", "left") == 0
    left = json.loads(Path("left-1.plate.json").read_text())
    assert left["history"] == ["barn door job", "left of d, cut for west gate"]
    assert left["held_for"] == ""
    assert shell("stock", "release", "d.plate.json") == 0
    assert json.loads(Path("d.plate.json").read_text())["held_for"] == ""


def test_a_plate_goes_on_the_rack_with_its_photo(shell: Shell) -> None:
    Path("drop.png").write_bytes(b"\x89PNG\r\n\x1a\n" + b"0" * 64)
    words = [
        "stock",
        "drop",
        "--size",
        "600 x 400 mm",
        "--thickness",
        "6 mm",
        "-o",
        "d.plate.json",
        "--rack",
        "B3",
    ]
    assert shell(*words, "--photo", "drop.png") == 2
    assert "--shop" in shell.err
    made = shell.document(*words, "--photo", "drop.png", "--shop", "shop")
    kept = Path("shop/files") / made["photo"][:2] / made["photo"][2:]
    assert kept.read_bytes() == Path("drop.png").read_bytes()
    assert shell("stock", "rack", "--shop", "shop") == 0
    assert "d: 600 x 400 x 6 mm mild steel, 11.3 kg, rack B3, photo" in shell.out
    assert "put on the rack" in shell.out
    Path("not.png").write_text("no picture")
    assert shell(*words, "--photo", "not.png", "--shop", "shop") == 2
    assert shell("stock", "rack", "--shop", "nowhere") == 2


def test_of_several_plates_the_cheapest_choice_is_used_and_each_is_written(shell: Shell) -> None:
    for name, size, cost in (
        ("a", "230 x 120 mm", "2"),
        ("b", "230 x 120 mm", "2"),
        ("big", "1200 x 600 mm", "90"),
    ):
        words = ["--size", size, "--thickness", "6 mm", "--cost", cost, "-o", f"{name}.plate.json"]
        assert shell("stock", "drop", *words) == 0
    save_part(Path("block.part.json"), name="block", width=100, height=100)
    plates = ["big.plate.json", "--plate", "a.plate.json", "--plate", "b.plate.json"]
    assert (
        shell("lay", *plates, "block.part.json:4", "-o", "l.layout.json", "--svg", "l.svg", "--steps", "0")
        == 0
    )
    used = [json.loads(Path(name).read_text()) for name in ("l.layout.json", "l-2.layout.json")]
    assert {u["plate"]["name"] for u in used} == {"a", "b"}
    assert [len(u["placements"]) for u in used] == [2, 2]
    assert Path("l-2.svg").is_file()


def test_fillers_come_last_and_what_is_first_comes_first(shell: Shell) -> None:
    """On a drop with room for one large part only the one that is first is laid, and washers around it."""
    assert shell("stock", "drop", "--size", "220 x 130 mm", "--thickness", "6 mm", "-o", "d.plate.json") == 0
    for name in ("later", "sooner"):
        save_part(Path(f"{name}.part.json"), name=name, width=160, height=110)
    save_part(Path("washer.part.json"), name="washer", width=20, height=20, hole=4)
    words = ["later.part.json:1:first=2", "sooner.part.json:1:first=1", "washer.part.json:40:filler"]
    made = shell.document("lay", "d.plate.json", *words, "--steps", "0", "-o", "l.layout.json")
    names = [made["parts"][p["part"]]["name"] for p in made["placements"]]
    assert names.count("sooner") == 1
    assert names.count("later") == 0
    assert 0 < names.count("washer") < 40
    assert [f["subject"] for f in made["findings"] if f["severity"] == "stop"] == ["later"]


def test_sheets_are_repeated_if_asked(shell: Shell) -> None:
    assert shell("stock", "sheet", "--size", "200 x 120 mm", "--thickness", "6 mm", "-o", "s.plate.json") == 0
    save_part(Path("tag.part.json"))
    words = ["lay", "s.plate.json", "tag.part.json:7", "--clear", "6 mm", "--clear-edge", "6 mm"]
    words += ["--steps", "0", "-o", "l.layout.json"]
    assert shell(*words) == 1
    assert shell(*words, "--repeat-sheets") == 0
    assert sorted(p.name for p in Path().glob("l*.layout.json")) == ["l-2.layout.json", "l.layout.json"]


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT to a child there")
@pytest.mark.parametrize("after", [0.0, 0.7])
def test_an_interrupted_search_leaves_the_best_layout_so_far(after: float, tmp_path: Path) -> None:
    """Ctrl-C, at once after the first layout and later: the file is there, whole and sound, and the end is no error."""
    sheet = Plate.sheet("s", 900, 500, 6.0)
    (tmp_path / "s.plate.json").write_text(json.dumps(sheet.as_dict()))
    save_part(tmp_path / "tag.part.json")
    output = tmp_path / "l.layout.json"
    words = ["lay", "s.plate.json", "tag.part.json:20", "--seconds", "120", "-o", "l.layout.json"]
    child = subprocess.Popen(
        [sys.executable, "-m", "platewright", *words], cwd=tmp_path, stdout=subprocess.PIPE, text=True
    )
    end = time.monotonic() + 100
    while not output.exists() and time.monotonic() < end:
        time.sleep(0.02)
    time.sleep(after)
    child.send_signal(signal.SIGINT)
    said, _ = child.communicate(timeout=60)
    assert child.returncode == 0
    assert "L007" in said
    layout = Layout.from_dict(json.loads(output.read_text()))
    assert len(layout.placements) == 20
    assert check(layout) == ()


def test_common_lines_take_the_kerf_the_burn_plan_will_cut_with(tmp_path: Path) -> None:
    plate, part, out = tmp_path / "s.plate.json", tmp_path / "g.part.json", tmp_path / "l.layout.json"
    assert main(["stock", "sheet", "--size", "800 x 400 mm", "--thickness", "6 mm", "-o", str(plate)]) == 0
    assert main(["shape", "gusset", "--thickness", "6 mm", "-o", str(part)]) == 0
    requested = [
        "lay",
        str(plate),
        f"{part}:4:turns=quarter:clear=12 mm",
        "--steps",
        "50",
        "--common",
        "--cut-off",
    ]
    assert main([*requested, "-o", str(out)]) == 0
    first = json.loads(out.read_text())
    row = starter_chart().row("mild steel", 6.0, table=load_table("small gantry")).row
    assert [c["gap_mm"] for c in first["common"]] == [row.kerf, row.kerf]
    assert first["clearance"]["own_mm"] == [12.0]
    assert first["cut_off_mm"] is not None
    assert main([*requested, "--go-on", "-o", str(out)]) == 0
    assert len(json.loads(out.read_text())["common"]) == 2
    assert main(["lay", str(plate), f"{part}:4:turns=upside", "-o", str(out)]) == 2
