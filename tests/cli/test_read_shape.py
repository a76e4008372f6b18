"""Parts by the command line: from dimensions, from points and drawings, and what is done to one."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from platewright.geometry import Contour, Profile
from platewright.part.export import to_dxf, to_svg
from platewright.part.model import Part
from tests.cli.helpers import Shell, save_part

SQUARE = Part(
    name="square",
    profile=Profile(Contour.rectangle(120, 80, radius=10), (Contour.circle(60, 40, 15),)),
    thickness=6.0,
)


def test_a_family_by_its_dimensions(shell: Shell) -> None:
    made = shell.document(
        "shape",
        "gusset",
        "--set",
        "across=100 mm",
        "--set",
        "up=4 in",
        "--thickness",
        "1/4 in",
        "-o",
        "g.part.json",
    )
    assert made["thickness_mm"] == 6.35
    part = Part.from_dict(json.loads(Path("g.part.json").read_text()))
    assert (part.profile.bounds().width, part.profile.bounds().height) == pytest.approx((100, 101.6))


def test_families_and_operations_are_listed(shell: Shell) -> None:
    assert shell("shape", "--list") == 0
    assert "hinge-strap" in shell.out
    assert "weld_room" in shell.out
    assert shell("shape", "gusset", "--list", "--svg", "gusset.svg") == 0
    assert "across" in shell.out
    assert ">across (from corner)<" in Path("gusset.svg").read_text()
    assert shell("shape", "--list", "--svg", "all.svg") == 2
    assert "No family is named" in shell.err


def test_operations_in_order_are_recorded_and_measured(shell: Shell) -> None:
    """A 120 x 80 plate, 5 mm off its bottom, an M12 hole (13.5 mm, ISO 273 medium, confirmed), then the other hand."""
    save_part(Path("a.part.json"), width=120, height=80)
    assert (
        shell(
            "shape",
            "a.part.json",
            "--hole",
            "M12 @ 20,60 mm",
            "--do",
            "weld_room edges=[[0,0]] distance='5 mm'",
            "--mirror",
            "-o",
            "b.part.json",
        )
        == 0
    )
    part = Part.from_dict(json.loads(Path("b.part.json").read_text()))
    assert [s.op for s in part.steps][-3:] == ["add_hole", "weld_room", "mirror"]
    assert part.hand == "other"
    new = part.profile.holes[-1]
    assert abs(new.points[:, 0].max() - new.points[:, 0].min()) == pytest.approx(13.5)
    assert new.points[:, 0].mean() == pytest.approx(100.0)
    assert part.profile.bounds().y0 == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["shape", "gadget", "--thickness", "6 mm", "-o", "x"], "no family"),
        (["shape", "gusset", "--set", "across=-5 mm", "--thickness", "6 mm", "-o", "x"], "across"),
        (["shape", "gusset", "--set", "across", "--thickness", "6 mm", "-o", "x"], "not a name and a value"),
        (["shape", "a.part.json", "--hole", "M12", "-o", "x"], "no place"),
        (["shape", "a.part.json", "--hole", "M99 @ 10,10 mm", "-o", "x"], "M99"),
        (["shape", "a.part.json", "--hole", "M6 @ 500,10 mm", "-o", "x"], "not wholly in the metal"),
        (["shape", "a.part.json", "--do", "polish", "-o", "x"], "not an operation"),
        (["shape", "a.part.json", "--do", "notch depth=3", "-o", "x"], "do not fit"),
        (["shape", "a.part.json", "--weld-room", "5 mm @ 0,99", "-o", "x"], "99"),
        (["shape", "a.part.json", "--bolt-circle", "six M10 @ 0,0 mm", "-o", "x"], "not a bolt circle"),
        (["shape", "gusset"], "thickness is missing"),
        (["shape", "gusset", "--thickness", "6 mm"], "no file to write"),
        (["shape", "gusset", "--thickness", "10 ga", "-o", "x"], "different thickness in each metal"),
        (["shape", "gusset", "--set", "across=100", "--thickness", "6 mm", "-o", "x"], "across"),
        (["shape", "a.part.json", "--hole", "13 @ 40,25 mm", "-o", "x"], "has no unit"),
        (["shape", "a.part.json", "--weld-room", "5 @ 0", "-o", "x"], "the unit is missing"),
        (["read", "a.part.xyz", "--thickness", "6 mm", "-o", "x"], "says nothing known"),
        (["read", "none.dxf", "--thickness", "6 mm", "-o", "x"], "no file"),
        (["read", "a.csv", "--thickness", "6", "-o", "x"], "--thickness"),
    ],
)
def test_bad_input_gets_a_sentence(words: list[str], text: str, shell: Shell) -> None:
    save_part(Path("a.part.json"))
    Path("a.csv").write_text("x,y\n0,0\n10,0\n10,10\n")
    assert shell(*words) == 2
    assert text in shell.err


def test_drawings_come_in_with_their_arcs(shell: Shell) -> None:
    for name, data in (("s.dxf", to_dxf(SQUARE)), ("s.svg", to_svg(SQUARE).encode())):
        Path(name).write_bytes(data)
        assert shell("read", name, "--thickness", "6 mm", "-o", "s.part.json") == 0, shell.err
        part = Part.from_dict(json.loads(Path("s.part.json").read_text()))
        assert part.profile.area() == pytest.approx(SQUARE.profile.area(), rel=1e-6)
        assert len(part.profile.outer) == 8


def test_several_shapes_become_several_parts(shell: Shell) -> None:
    other = Part(name="disc", profile=Profile(Contour.circle(300, 0, 25)), thickness=6.0)
    Path("two.dxf").write_bytes(to_dxf([SQUARE, other]))
    assert shell("read", "two.dxf", "--thickness", "6 mm", "-o", "two") == 0
    areas = [
        Part.from_dict(json.loads(Path(f"two-{k}.part.json").read_text())).profile.area() for k in (1, 2)
    ]
    assert areas[1] == pytest.approx(math.pi * 625, rel=1e-6)


def test_traced_points_become_a_shape(shell: Shell) -> None:
    spots = [(0.02, 0), (90, 0.01), (90.01, 60), (0, 59.98)]
    Path("t.csv").write_text("x,y\n" + "\n".join(f"{x},{y}" for x, y in spots))
    made = shell.document("read", "t.csv", "--unit", "mm", "--thickness", "6 mm", "-o", "t.part.json")
    assert made["part"]["thickness_mm"] == 6.0
    assert Part.from_dict(made["part"]).profile.area() == pytest.approx(5400, abs=10)
    assert shell("show", "t.part.json", "--svg", "t.svg", "--unit", "in") == 0
    assert "3.54" in shell.out
    assert Path("t.svg").read_text().startswith("<svg")


def test_a_part_goes_out_as_drawings_and_comes_back(shell: Shell) -> None:
    save_part(Path("a.part.json"), width=120, height=80)
    assert shell("show", "a.part.json", "--dxf", "a.dxf", "--shape", "a.svg") == 0
    before = Part.from_dict(json.loads(Path("a.part.json").read_text()))
    for name in ("a.dxf", "a.svg"):
        assert shell("read", name, "--thickness", "6 mm", "-o", "b.part.json") == 0
        after = Part.from_dict(json.loads(Path("b.part.json").read_text()))
        assert after.profile.area() == pytest.approx(before.profile.area(), rel=1e-7)


def test_layers_can_be_left_out(shell: Shell) -> None:
    save_part(Path("a.part.json"))
    assert shell("show", "a.part.json", "--dxf", "a.dxf") == 0
    assert shell("read", "a.dxf", "--layer", "*=ignore", "--thickness", "6 mm", "-o", "b.part.json") == 2
    assert shell("read", "a.dxf", "--layer", "CUT", "--thickness", "6 mm", "-o", "b.part.json") == 2
    assert "does not say what becomes of a layer" in shell.err


def test_a_sign_with_a_font_of_the_shops_own_and_a_set_of_letters(shell: Shell) -> None:
    from tests.pattern.test_letters import cubic_font

    made = shell.document(
        "shape", "sign", "--set", "text=ROSE|HILL", "--thickness", "6 mm", "-o", "s.part.json"
    )
    assert len(made["profile"]["holes"]) > 10
    Path("own.otf").write_bytes(cubic_font())
    words = ["shape", "letters", "--set", "text=HxH", "--set", "mount=studs", "--font", "own.otf"]
    assert shell(*words, "--thickness", "4 mm", "-o", "h.part.json", "--template", "h.pdf") == 0
    assert "own font own …" in shell.out
    parts = [Part.from_dict(json.loads(Path(f"h-{n}.part.json").read_text())) for n in (1, 2, 3)]
    assert [p.name for p in parts] == ["h 1 of 3: H", "h 2 of 3: x", "h 3 of 3: H"]
    assert Path("h.pdf").read_bytes().startswith(b"%PDF")
    assert shell("shape", "plate", "--thickness", "4 mm", "-o", "p.json", "--template", "p.pdf") == 2
    assert "no template" in shell.err


def test_a_picture_becomes_a_silhouette(shell: Shell) -> None:
    from tests.pattern.test_silhouette import scene

    Path("dog.png").write_bytes(scene("animal")[0])
    assert (
        shell("read", "dog.png", "--silhouette", "12 in", "--thickness", "3 mm", "-o", "dog.part.json") == 0
    )
    assert "lines and arcs, at most" in shell.out
    part = Part.from_dict(json.loads(Path("dog.part.json").read_text()))
    assert part.profile.bounds().width == pytest.approx(304.8, abs=0.5)
    assert shell("read", "dog.png", "--silhouette", "30", "--thickness", "3 mm", "-o", "x") == 2
    assert "--silhouette" in shell.err
