"""Ugly drawing files, made here: each with the parts it must give or the sentence it must get."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import ezdxf

from platewright.pattern.drawing.model import Limits

FEW = (("limits", Limits(entities=20_000)),)
SQUARE = [(0, 0), (100, 0), (100, 100), (0, 100)]


@dataclass(frozen=True, kw_only=True)
class Ugly:
    """One file: name, bytes, options, and areas of the parts [mm²] or words of the sentence."""

    name: str
    data: bytes
    areas: tuple[float, ...] = ()
    words: str = ""
    finding: str = ""
    options: tuple[tuple[str, Any], ...] = ()


def dxf(draw: Callable[[Any, Any], None], *, unit: int = 4, version: str = "R2000") -> bytes:
    document = ezdxf.new(version)  # type: ignore[attr-defined]
    if version != "R12":
        document.header["$INSUNITS"] = unit
    draw(document, document.modelspace())
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode("utf-8")


def bare_dxf(rows: list[str]) -> bytes:
    """Return a DXF file of entity rows (code, value, code, value, …) under the least header, in millimetres."""
    head = [
        "0",
        "SECTION",
        "2",
        "HEADER",
        "9",
        "$INSUNITS",
        "70",
        "4",
        "0",
        "ENDSEC",
        "0",
        "SECTION",
        "2",
        "ENTITIES",
    ]
    return "\n".join([*head, *rows, "0", "ENDSEC", "0", "EOF"]).encode()


def lines(space: Any, points: list[tuple[float, float]], **kw: Any) -> None:
    for p, q in zip(points, [*points[1:], points[0]], strict=True):
        space.add_line(p, q, **kw)


def svg(body: str, *, head: str = 'width="100mm" height="100mm" viewBox="0 0 100 100"') -> bytes:
    return f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {head}>{body}</svg>'.encode()


def _exploded_block(doc: Any, msp: Any) -> None:
    block = doc.blocks.new("EAR")
    block.add_arc((0, 0), 10, -90, 90)
    block.add_line((0, -10), (0, 10))
    msp.add_blockref("EAR", (50, 50), dxfattribs={"rotation": 30, "xscale": 2, "yscale": 2})
    msp.add_blockref("EAR", (150, 50), dxfattribs={"xscale": -1, "yscale": 1})


def _nested(doc: Any, msp: Any) -> None:
    a, b = doc.blocks.new("A"), doc.blocks.new("B", base_point=(5, 5))
    a.add_circle((0, 0), 5)
    b.add_blockref("A", (20, 0), dxfattribs={"xscale": 2, "yscale": 2})
    b.add_blockref("A", (60, 0))
    msp.add_blockref("B", (0, 0), dxfattribs={"rotation": 45, "xscale": 2, "yscale": 2})
    msp.add_lwpolyline([(-500, -500), (500, -500), (500, 500), (-500, 500)], close=True)


def _stretched(doc: Any, msp: Any) -> None:
    doc.blocks.new("C").add_circle((0, 0), 10)
    msp.add_blockref("C", (0, 0), dxfattribs={"xscale": 3, "yscale": 1, "rotation": 20})


def _array(doc: Any, msp: Any) -> None:
    doc.blocks.new("D").add_lwpolyline(SQUARE, close=True)
    msp.add_blockref(
        "D", (0, 0), dxfattribs={"column_count": 3, "row_count": 2, "column_spacing": 150, "row_spacing": 150}
    )


def _twice(_doc: Any, msp: Any) -> None:
    lines(msp, SQUARE)
    lines(msp, list(reversed(SQUARE)))
    msp.add_circle((50, 50), 10)
    msp.add_circle((50, 50), 10)
    msp.add_lwpolyline([(200, 0), (240, 0), (240, 40), (200, 40)], close=True)
    msp.add_lwpolyline([(240, 40), (200, 40), (200, 0), (240, 0)], close=True)


def _gaps(_doc: Any, msp: Any) -> None:
    msp.add_line((0.1, 0), (99.9, 0))
    msp.add_line((100, 0.1), (100, 99.9))
    msp.add_line((99.9, 100), (0.2, 100))
    msp.add_line((0, 99.8), (0, 0.2))


def _reversed_arcs(_doc: Any, msp: Any) -> None:
    # a slot: both arcs drawn counterclockwise, one line each way round
    msp.add_line((0, -10), (50, -10))
    msp.add_line((0, 10), (50, 10))
    msp.add_arc((50, 0), 10, -90, 90)
    msp.add_arc((0, 0), 10, 90, 270)


def _spline(_doc: Any, msp: Any) -> Any:
    spots = [(40 * math.cos(a), 25 * math.sin(a)) for a in [math.tau * k / 24 for k in range(25)]]
    return msp.add_spline(spots)


def spline_area() -> float:
    """Return the area in the spline by the other library's own fine chords [mm²]."""
    doc = ezdxf.new("R2000")  # type: ignore[attr-defined]
    xy = [(p.x, p.y) for p in _spline(doc, doc.modelspace()).construction_tool().flattening(1e-5)]
    return abs(sum(a[0] * b[1] - a[1] * b[0] for a, b in zip(xy, [*xy[1:], xy[0]], strict=True))) / 2


def _ellipse(_doc: Any, msp: Any) -> None:
    msp.add_ellipse((10, 20), major_axis=(40, 10), ratio=0.5)


def _half_ellipses(_doc: Any, msp: Any) -> None:
    msp.add_ellipse((0, 0), major_axis=(40, 0), ratio=0.5, start_param=0, end_param=math.pi)
    msp.add_line((-40, 0), (40, 0))


def _stray(_doc: Any, msp: Any) -> None:
    lines(msp, SQUARE)
    msp.add_line((100, 100), (170, 150))


def _island(_doc: Any, msp: Any) -> None:
    for r in (60, 40, 20):
        msp.add_circle((0, 0), r)


def _layers(doc: Any, msp: Any) -> None:
    doc.layers.add("BEND LINES")
    doc.layers.add("Old").off()
    msp.add_lwpolyline(SQUARE, close=True)
    msp.add_line((0, 50), (100, 50), dxfattribs={"layer": "BEND LINES"})
    msp.add_circle((50, 50), 20, dxfattribs={"layer": "Old"})
    msp.add_circle((500, 50), 20, dxfattribs={"layer": "Title block"})


def _ocs(_doc: Any, msp: Any) -> None:
    msp.add_lwpolyline(SQUARE, close=True, dxfattribs={"extrusion": (0, 0, -1)})
    msp.add_arc((-50, 50), 10, 0, 180, dxfattribs={"extrusion": (0, 0, -1)})
    msp.add_line((40, 50), (60, 50))


def _tilted(_doc: Any, msp: Any) -> None:
    msp.add_lwpolyline(SQUARE, close=True)
    msp.add_circle((50, 50), 10, dxfattribs={"extrusion": (1, 0, 0)})


def _others(_doc: Any, msp: Any) -> None:
    msp.add_lwpolyline(SQUARE, close=True)
    msp.add_hatch()
    msp.add_text("M12 all over").set_placement((10, 10))
    msp.add_mtext("two\nlines")
    msp.add_point((50, 50))


def _bulges(_doc: Any, msp: Any) -> None:
    msp.add_lwpolyline([(0, 0, 0), (60, 0, 1), (60, 40, 0), (0, 40, 1), (0, 0, 0)], format="xyb", close=False)


def _cycle(doc: Any, msp: Any) -> None:
    a, b = doc.blocks.new("A"), doc.blocks.new("B")
    a.add_blockref("B", (0, 0))
    b.add_blockref("A", (1, 0))
    msp.add_blockref("A", (0, 0))


def _exponential(doc: Any, msp: Any) -> None:
    doc.blocks.new("N0").add_circle((0, 0), 1)
    for level in range(1, 9):
        block = doc.blocks.new(f"N{level}")
        for k in range(10):
            block.add_blockref(f"N{level - 1}", (k * 3, level))
    msp.add_blockref("N8", (0, 0))


def _deep(doc: Any, msp: Any) -> None:
    doc.blocks.new("M0").add_circle((0, 0), 1)
    for level in range(1, 60):
        doc.blocks.new(f"M{level}").add_blockref(f"M{level - 1}", (0, 0))
    msp.add_blockref("M59", (0, 0))


def _huge_array(doc: Any, msp: Any) -> None:
    doc.blocks.new("D").add_circle((0, 0), 1)
    msp.add_blockref(
        "D",
        (0, 0),
        dxfattribs={"column_count": 30000, "row_count": 30000, "column_spacing": 3, "row_spacing": 3},
    )


def _plain(_doc: Any, msp: Any) -> None:
    msp.add_lwpolyline(SQUARE, close=True)


def _far(_doc: Any, msp: Any) -> None:
    msp.add_lwpolyline([(x + 5e7, y + 5e7) for x, y in SQUARE], close=True)


def _open(_doc: Any, msp: Any) -> None:
    msp.add_line((0, 0), (100, 0))
    msp.add_line((100, 0), (100, 100))


def many(count: int) -> bytes:
    """Return a file of `count` lines: squares of ten millimetres."""

    def draw(_doc: Any, msp: Any) -> None:
        for k in range(count // 4):
            x, y = (k % 112) * 20, (k // 112) * 20
            lines(msp, [(x, y), (x + 10, y), (x + 10, y + 10), (x, y + 10)])

    return dxf(draw)


def _spoiled(data: bytes, old: bytes, new: bytes) -> bytes:
    assert old in data
    return data.replace(old, new, 1)


def _latin(name: str) -> bytes:
    """Return an R12 file with a layer name in a Windows code page."""

    def draw(doc: Any, msp: Any) -> None:
        doc.layers.add("Kante")
        msp.add_polyline2d(SQUARE, close=True, dxfattribs={"layer": "Kante"})

    return dxf(draw, version="R12").replace(b"Kante", name.encode("cp1252"))


def _bomb() -> bytes:
    entities = "".join(f'<!ENTITY l{k} "{f"&l{k - 1};" * 10}">' for k in range(1, 12))
    return f'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY l0 "lol">{entities}]><svg xmlns="http://www.w3.org/2000/svg">&l11;</svg>'.encode()


def _use_tree() -> bytes:
    body = '<g id="u0"><rect width="1" height="1"/></g>'
    for level in range(1, 9):
        body += f'<g id="u{level}">' + f'<use href="#u{level - 1}"/>' * 10 + "</g>"
    return svg(f'<defs>{body}</defs><use href="#u8"/>')


CIRCLE_AREA = math.pi
SLOT = 50 * 20 + math.pi * 100


def ugly() -> list[Ugly]:
    """Return every ugly file."""
    plain = dxf(_plain)
    return [
        Ugly(name="exploded block.dxf", data=dxf(_exploded_block), areas=(math.pi * 200, math.pi * 50)),
        Ugly(name="nested inserts.dxf", data=dxf(_nested), areas=(1e6 - math.pi * 500,)),
        Ugly(name="stretched block.dxf", data=dxf(_stretched), areas=(math.pi * 300,)),
        Ugly(name="array.dxf", data=dxf(_array), areas=(1e4,) * 6),
        Ugly(name="inches.dxf", data=dxf(_plain, unit=1), areas=(1e4 * 25.4**2,)),
        Ugly(name="metres.dxf", data=dxf(lambda d, m: m.add_circle((0, 0), 0.05), unit=6), areas=(math.pi * 2500,)),
        Ugly(name="drawn twice.dxf", data=dxf(_twice), areas=(1e4 - math.pi * 100, 1600.0), finding="D002"),
        Ugly(name="gaps of 0.3 mm.dxf", data=dxf(_gaps), areas=(1e4,), finding="G002"),
        Ugly(name="reversed arcs.dxf", data=dxf(_reversed_arcs), areas=(SLOT,)),
        Ugly(name="spline.dxf", data=dxf(_spline), areas=(spline_area(),)),
        Ugly(name="ellipse.dxf", data=dxf(_ellipse), areas=(math.pi * 1700 / 2,)),
        Ugly(name="half ellipse.dxf", data=dxf(_half_ellipses), areas=(math.pi * 400,)),
        Ugly(name="square with a stray line.dxf", data=dxf(_stray), areas=(1e4,), finding="G001"),
        Ugly(name="island in a hole.dxf", data=dxf(_island), areas=(math.pi * 2000, math.pi * 400)),
        Ugly(name="layers.dxf", data=dxf(_layers), areas=(1e4,)),
        Ugly(name="seen from below.dxf", data=dxf(_ocs), areas=(1e4 - 0.0, math.pi * 50), options=()),
        Ugly(name="tilted circle.dxf", data=dxf(_tilted), areas=(1e4,), finding="D007"),
        Ugly(name="hatches and text.dxf", data=dxf(_others), areas=(1e4,), finding="D003"),
        Ugly(name="bulges, ends meeting.dxf", data=dxf(_bulges), areas=(60 * 40 + math.pi * 400,)),
        Ugly(name="code page.dxf", data=_latin("Außen"), areas=(1e4,), options=(("units", "mm"),)),
        Ugly(name="wrong encoding.dxf", data=_spoiled(dxf(_layers), b"BEND LINES", b"BEND L\xfe\xffNES"), areas=(1e4,)),
        Ugly(name="R12.dxf", data=dxf(lambda d, m: m.add_polyline2d(SQUARE, close=True), version="R12"), areas=(1e4 * 645.16,), options=(("units", "in"),)),
        Ugly(name="no unit.dxf", data=dxf(_plain, unit=0), words="2540 by 2540 mm"),
        Ugly(name="cut short.dxf", data=plain[: plain.find(b"LWPOLYLINE", plain.find(b"ENTITIES")) + 60], words="damaged|nothing to cut|anything drawn"),
        Ugly(name="cut in the middle.dxf", data=many(400)[: int(0.8 * len(many(400)))], finding="D001", areas=()),
        Ugly(name="not a number.dxf", data=_spoiled(dxf(_plain), b"100.0", b"nan"), words="not a number"),
        Ugly(name="infinite.dxf", data=_spoiled(dxf(_open), b"100.0", b"1e999"), words="not a number"),
        Ugly(name="huge coordinates.dxf", data=dxf(_far), words="from its origin"),
        Ugly(name="block in itself.dxf", data=dxf(_cycle), words="contains itself"),
        Ugly(name="blocks ten to the eighth.dxf", data=dxf(_exponential), words="more than 20000 entities", options=FEW),
        Ugly(name="sixty blocks deep.dxf", data=dxf(_deep), words="too deep"),
        Ugly(name="array of 900 million.dxf", data=dxf(_huge_array), words="more than 200000 entities"),
        Ugly(name="nothing closed.dxf", data=dxf(_open), words="No closed shape"),
        Ugly(name="empty.dxf", data=dxf(lambda d, m: None), words="nothing to cut"),
        Ugly(name="no drawing.dxf", data=b"hello\n" * 50, words="not a DXF"),
        Ugly(name="binary.dxf", data=b"AutoDrawing Binary\r\n\x1a\x00" + b"\x00" * 200, words="binary DXF"),
        Ugly(name="zero bytes.svg", data=b"", words="no SVG"),
        Ugly(name="picture.jpg", data=b"\xff\xd8\xff\xe0", words="DXF or SVG"),
        Ugly(name="entity bomb.svg", data=_bomb(), words="XML entities"),
        Ugly(name="outside entity.svg", data=b'<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]><svg xmlns="http://www.w3.org/2000/svg">&x;</svg>', words="XML entities"),
        Ugly(name="uses ten to the eighth.svg", data=_use_tree(), words="more than 20000 elements", options=FEW),
        Ugly(name="use in itself.svg", data=svg('<g id="a"><use href="#a"/></g>'), words="within itself"),
        Ugly(name="groups 5000 deep.svg", data=svg("<g>" * 5000 + "</g>" * 5000), words="too deep"),
        Ugly(name="cut short.svg", data=svg('<rect width="10" height="10"/>')[:-9], words="cut short"),
        Ugly(name="html.svg", data=b"<html><body/></html>", words="not svg"),
        Ugly(name="no unit.svg", data=svg('<rect width="10" height="10"/>', head='viewBox="0 0 100 100"'), words="how big one unit is"),
        Ugly(name="pixels.svg", data=svg('<rect width="96" height="96"/>', head='width="200" height="200"'), areas=(645.16,), options=(("units", "px"),)),
        Ugly(name="inches.svg", data=svg('<rect width="50" height="50"/>', head='width="4in" height="4in" viewBox="0 0 100 100"'), areas=(50.8**2,)),
        Ugly(name="every command.svg", data=svg('<path d="M10 10h20v20H10z m40 0 l20 0 0 20 -20 0z M10 50 q10 10 20 0 t20 0 V90 H10z M60 60 a10 10 0 1 0 20 0 a10 10 0 1 0 -20 0 M5,95 c1,1 2,1 3,0 s2-1 3 0 L11,99 5 99Z"/>'), areas=()),
        Ugly(name="shapes.svg", data=svg('<rect x="5" y="5" width="30" height="20" rx="4"/><circle cx="60" cy="20" r="10"/><ellipse cx="30" cy="60" rx="20" ry="10"/><polygon points="60,50 90,50 90,80"/>'),
             areas=(600 - (4 - math.pi) * 16, math.pi * 100, math.pi * 200, 450.0)),
        Ugly(name="transforms.svg", data=svg('<g transform="translate(50,50) rotate(30)"><g transform="scale(2) skewX(20)"><rect width="10" height="10"/></g><circle r="8" transform="matrix(0 1 -1 0 -30 0)"/></g>'),
             areas=(400.0, math.pi * 64)),
        Ugly(name="stretched page.svg", data=svg('<circle cx="50" cy="50" r="10"/>', head='width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="none"'), areas=(math.pi * 200,)),
        Ugly(name="symbol and use.svg", data=svg('<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol><use href="#s" x="10" y="10" width="20" height="20"/><use xlink:href="#s" x="50" y="10" width="30" height="30"/>'), areas=(400.0, 900.0)),
        Ugly(name="hidden.svg", data=svg('<style>.off{display:none}</style><rect width="20" height="20"/><rect class="off" x="30" width="20" height="20"/><rect style="display:none" x="60" width="20" height="20"/><g display="none"><circle r="5" cx="50" cy="50"/></g>'), areas=(400.0,)),
        Ugly(name="picture inside.svg", data=svg('<image href="file:///etc/passwd" width="10" height="10"/><rect width="20" height="20"/><text x="5" y="5">hole</text>'), areas=(400.0,), finding="D003"),
        Ugly(name="not finite.svg", data=svg('<rect width="20" height="20" transform="scale(1e999)"/>'), words="not finite|cannot be read"),
        Ugly(name="nonsense path.svg", data=svg('<path d="M10 banana"/>'), words="cannot be read|nothing to cut|No closed"),
        Ugly(name="layers.svg", data=svg('<g data-layer="etch"><path d="M0 0H50"/></g><g id="outline"><rect width="50" height="50"/></g>'), areas=(2500.0,)),
    ]  # fmt: skip
