"""Make a part from dimensions, or do things to a part: weld room, holes, bolt circle, mirror and the rest.

SOURCE is a family of shapes (--list shows them) or a part file. Operations are done in the order given; each is
recorded on the part, so that the list can be edited and played again. Edges are numbered from 0 as `show` lists
them; 1:0 is edge 0 of the first hole.
"""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from platewright.cli.common import Outcome, declare, document, read_bytes, save, save_document, stem
from platewright.cli.shapes import place
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.part.families import Made
    from platewright.part.families.model import Raw
    from platewright.part.model import Part

EXAMPLES = """examples:
  platewright shape --list
  platewright shape gusset --set across="100 mm" --set up="80 mm" --thickness "6 mm" -o gusset.part.json
  platewright shape strap.part.json --weld-room "5 mm @ 0,2" --hole "M12 @ 40,30 mm" -o strap2.part.json
  platewright shape plate.part.json --bolt-circle "6 x M10 on 120 mm @ 0,0 mm" --mirror -o other.part.json
  platewright shape plate.part.json --do "notch edge=[0,1] width='20 mm' depth='10 mm'" -o notched.part.json
  platewright shape sign --set text="ROSEHILL|FARM" --thickness "6 mm" -o sign.part.json
  platewright shape letters --set text=BARN --font OurFont.ttf --thickness "4 mm" -o barn.part.json --template barn.pdf
every operation of the list can be given with --do NAME key=value ...; lengths and angles carry their units"""


class _InOrder(argparse.Action):
    """Keep operations of all kinds in the order given."""

    def __call__(
        self,
        _parser: argparse.ArgumentParser,
        space: argparse.Namespace,
        values: Any,
        option: str | None = None,
    ) -> None:
        space.operations = [
            *(space.operations or []),
            (self.dest, values if isinstance(values, str) else "", option),
        ]


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    parser.set_defaults(operations=[])
    declare(
        parser,
        ("source SOURCE", "a family's name or a part file", {"nargs": "?"}),
        ("--list", "list the families, or the dimensions of the one named, and the operations"),
        ("-o --output FILE", "part file to write"),
        ("--set NAME=VALUE ...", "a dimension of the family, for example width='4 in'"),
        ("--name NAME", "what the shop calls it"),
        ("--thickness T", "6 mm, 1/4 in, 10 ga (of the grade)"),
        ("--grade GRADE", "mild steel, galvanized steel, stainless, aluminium"),
        ("--svg FILE", "also draw it; with --list the family with its dimensions named"),
        ("--font FILE", "a font file of your own for a sign (.ttf, .otf, .woff)"),
        ("--template FILE", "also print the paper to mount single letters by (PDF)"),
    )  # fmt: skip
    doing = parser.add_argument_group("operations, in the order given")
    declare(
        doing,
        ("--weld-room LEG[@EDGES]", "set edges back: '5 mm @ 0,2'; without edges the whole outline; 'auto @ 0' proposes the leg", {"action": _InOrder}),
        ("--hole SIZE@PLACE", "'M12 @ 40,30 mm', '1/2 in loose @ 2,3 in' or '13 mm @ 40,30 mm'", {"action": _InOrder}),
        ("--bolt-circle N x SIZE on D@PLACE", "'6 x M10 on 120 mm @ 0,0 mm'", {"action": _InOrder}),
        ("--mirror", "make the other hand", {"action": _InOrder, "nargs": 0}),
        ("--do OPERATION", "any operation: NAME key=value ...", {"action": _InOrder}),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Make the part."""
    if args.list or not args.source:
        return _list(args.source, args.svg)
    from platewright.cli.show import part_lines
    from platewright.part.checks import check

    lines, files, found, last = [], [], [], None
    made, template = _source(args)
    if args.output is None:
        raise InputError(
            "There is no file to write the part to.", do="Give one with -o, for example -o part.part.json."
        )
    for n, one in enumerate(made, 1):
        part = one.part
        for kind, words, option in args.operations:
            part = _OPERATIONS[kind](part, words, option)
        files.append(save_document(_numbered(args.output, n, len(made)), part.as_dict()))
        if args.svg:
            from platewright.part.sheet_svg import sheet_svg

            files.append(save(_numbered(args.svg, n, len(made)), sheet_svg(part)))
        lines += part_lines(part, "mm")
        found += [*one.findings, *check(part)]
        last = part
    if args.template:
        files.append(_templated(args.template, template))
    document = (
        last.as_dict()
        if last is not None and len(made) == 1
        else {"parts": [one.part.as_dict() for one in made]}
    )
    return Outcome(lines, document, found, files)


def _numbered(path: Path, number: int, count: int) -> Path:
    """Return the path of one of several files: barn-1.part.json of barn.part.json."""
    head, dot, rest = path.name.partition(".")
    return path if count == 1 else path.with_name(f"{head}-{number}{dot}{rest}")


def _templated(path: Path, part: Part | None) -> Path:
    from platewright.paper.full_size import full_size

    if part is None:
        raise InputError(
            "This shape has no template to mount by.",
            where="--template",
            do="It belongs to the family letters.",
        )
    return save(path, full_size(part))


def _list(source: str | None, svg: Path | None) -> Outcome:
    from platewright.part.families import families, family
    from platewright.part.families.picture import picture
    from platewright.part.ops import OPERATIONS

    if source:
        one = family(source)
        rows = [f"  {p.name:<14} {p.default:>12}  {p.label}" for p in one.parameters]
        files = [save(svg, picture(one))] if svg else []
        return Outcome(
            [f"{one.name}: {one.title}", *rows],
            {
                "family": one.name,
                "parameters": [
                    {"name": p.name, "default": p.default, "label": p.label} for p in one.parameters
                ],
            },
            files=files,
        )
    if svg:
        raise InputError(
            "No family is named to draw.", do="Give its name, for example gusset --list --svg gusset.svg."
        )
    lines = ["families:", *(f"  {name:<16} {one.title}" for name, one in families().items()), "operations:"]
    does = {
        name: (function.__doc__ or "").strip().splitlines()[0]
        for name, function in sorted(OPERATIONS.items())
    }
    lines += [f"  {name:<18} {text}" for name, text in does.items()]
    return Outcome(lines, {"families": list(families()), "operations": list(does)})


def _source(args: argparse.Namespace) -> tuple[list[Made], Part | None]:
    from dataclasses import replace

    from platewright.materials import grade
    from platewright.part.families import OWN, Made, Piece, fonted, made, pieces, template
    from platewright.part.model import Part
    from platewright.units import parse

    path = Path(args.source)
    if path.suffix == ".json" or path.exists():
        part = Part.from_dict(document(path, "part"))
        if args.set:
            raise InputError(
                "--set is for a family of shapes, not for a part file.",
                do="Use operations, or make the part anew.",
            )
        metal = grade(args.grade).name if args.grade else part.grade
        thick = parse(args.thickness, metal=metal, where="--thickness") if args.thickness else part.thickness
        return [Made(replace(part, name=args.name or part.name, thickness=thick, grade=metal))], None
    values: dict[str, Raw] = dict(_pair(text, "--set") for text in args.set)
    if args.thickness is None:
        raise InputError(
            "The thickness is missing.", where="--thickness", do="Say it like 6 mm, 1/4 in or 10 ga steel."
        )
    thickness = parse(args.thickness, metal=args.grade, where="--thickness")
    called = args.name or (stem(args.output) if args.output else None)
    if args.font:
        values["font"] = f"{OWN}{args.font}"
    values = fonted(args.source, values, lambda given: (read_bytes(Path(given)), Path(given).name))
    wanted = (
        [Piece(called or args.source, values)]
        if "piece" in values
        else pieces(args.source, values, unit=None)
    )
    parts = [
        made(
            args.source, piece.values, unit=None, thickness=thickness, grade=args.grade,
            called=called if len(wanted) == 1 else f"{called} {piece.name}",
        )
        for piece in wanted
    ]  # fmt: skip
    return parts, template(args.source, values, unit=None) if args.template else None


def _pair(text: str, where: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not equals:
        raise InputError(
            f"'{text}' is not a name and a value.", where=where, do="Write it like width='4 in'."
        )
    return name.strip(), value.strip()


def _at(text: str, where: str) -> tuple[str, tuple[float, float]]:
    given, at, spot = text.partition("@")
    if not at:
        raise InputError(f"'{text}' has no place.", where=where, do="Write it like 'M12 @ 40,30 mm'.")
    return given.strip(), place(spot, where=where)


def _size(text: str) -> str:
    """Refuse a bare number: bolts and lengths carry their units."""
    if re.fullmatch(r"[\d.]+", text):
        raise InputError(
            f"The size '{text}' has no unit.", where="hole", do="Write it like M12, 1/2 in loose or 13 mm."
        )
    return text


def _hole(part: Part, words: str, where: str) -> Part:
    from platewright.part.ops import add_hole

    text, spot = _at(words, where)
    return add_hole(part, at=spot, hole=_size(text))


def _bolt_circle(part: Part, words: str, where: str) -> Part:
    from platewright.part.ops import bolt_circle
    from platewright.units import parse

    text, spot = _at(words, where)
    found = re.fullmatch(r"(\d+)\s*[x×]\s*(.+?)\s+on\s+(.+)", text)
    if found is None:
        raise InputError(
            f"'{words}' is not a bolt circle.", where=where, do="Write it like '6 x M10 on 120 mm @ 0,0 mm'."
        )
    return bolt_circle(
        part,
        centre=spot,
        diameter=parse(found[3], where=where),
        count=int(found[1]),
        hole=_size(found[2]),
    )


def _weld_room(part: Part, words: str, where: str) -> Part:
    from platewright.part.ops import propose_room, weld_room
    from platewright.units import parse

    text, at, numbers = words.partition("@")
    leg = propose_room(part).leg if text.strip() == "auto" else parse(text, where=where)
    return weld_room(part, distance=leg, edges=[_edge(n, where) for n in numbers.split(",")] if at else None)


def _edge(text: str, where: str) -> tuple[int, int]:
    found = re.fullmatch(r"\s*(?:(\d+):)?(\d+)\s*", text)
    if found is None:
        raise InputError(
            f"'{text.strip()}' is not an edge.", where=where, do="Write edges like 0,2 or 1:0 (contour:edge)."
        )
    return int(found[1] or 0), int(found[2])


def _mirror(part: Part, _words: str, _where: str) -> Part:
    from platewright.part.ops import mirror

    return mirror(part)


def _do(part: Part, words: str, where: str) -> Part:
    import shlex

    from platewright.part.ops import OPERATIONS

    try:
        name, *pairs = shlex.split(words)
    except ValueError as bad:
        raise InputError(
            f"'{words}' is not an operation.", where=where, do="Write it like notch edge=[0,1] width='20 mm'."
        ) from bad
    name = name.replace("-", "_")
    if name not in OPERATIONS:
        raise InputError(f"'{name}' is not an operation.", where=where, allowed=", ".join(sorted(OPERATIONS)))
    inputs = {key: _value(value, where) for key, value in (_pair(p, where) for p in pairs)}
    try:
        return OPERATIONS[name](part, **inputs)
    except TypeError as bad:
        raise InputError(
            f"The inputs of {name} do not fit: {bad}.", where=where, do="See --list and docs/shape/parts.md."
        ) from bad


def _value(text: str, where: str) -> Any:
    """Read JSON, else a length or an angle, else leave the words."""
    from platewright.units import parse

    try:
        return json.loads(text)
    except json.JSONDecodeError:
        pass
    if re.match(r"\s*[-+.\d]", text):
        kind = "angle" if re.search(r"(deg|°|rad)\s*$", text) else "length"
        return parse(text, kind, where=where)  # type: ignore[arg-type]
    return text


_OPERATIONS = {
    "weld_room": _weld_room,
    "hole": _hole,
    "bolt_circle": _bolt_circle,
    "mirror": _mirror,
    "do": _do,
}
