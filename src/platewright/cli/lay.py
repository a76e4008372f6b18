"""Place parts on a plate, clear of old holes, hold-downs and each other.

Parts are said as FILE or FILE:QUANTITY, and after that in any order: pairs (each with its other-hand copy),
filler (only laid where room is left), first=N (smaller N are placed first; 0 if nothing is said), worth=MONEY, turns=free,
turns=quarter or turns=grain, face-down (copies may be turned over), clear=LENGTH (it keeps that far from other parts). With more plates to
choose from those are used that cost least; each is written to a file of its own (gate.layout.json, gate-2.layout.json).
The best layout so far is always in those files: stop with Ctrl-C whenever you like.
"""

from __future__ import annotations

import argparse
import os
import signal
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from platewright.cli.common import Outcome, declare, document, save, save_document
from platewright.cli.shapes import named_contour
from platewright.errors import InputError
from platewright.layout.declared import CLEARANCES, LYING, SEARCH

if TYPE_CHECKING:
    from platewright.layout.lay import LayOptions, Progress
    from platewright.layout.model import Layout, Wanted
    from platewright.stock.model import Plate
    from platewright.table.model import ChartRow

EXAMPLES = """examples:
  platewright lay drop.plate.json strap.part.json:2:pairs gusset.part.json:6 -o gate.layout.json --svg gate.svg
  platewright lay drop.plate.json plate.part.json:4 --keepout "magnet @ 80,80 mm d 60 mm" --seconds 5 -o plates.layout.json
  platewright lay drop.plate.json --plate sheet.plate.json --repeat-sheets strap.part.json:120 -o straps.layout.json
  platewright lay sheet.plate.json frame.part.json:4:first=1 strap.part.json:8:first=2 washer.part.json:90:filler -o frames.layout.json"""

EVERY = 0.5
"""Shortest time between two savings of a better layout [s]."""


def _help(name: str, before: str = "") -> str:
    """Return the help of a declared choice (no unit [-])."""
    one = next(o for o in (*CLEARANCES, *SEARCH, *LYING) if o.name == name)
    about = f"; {one.help}" if one.kind == "flag" else ""
    return f"{before}{one.label.replace('’', chr(39))}{about} (default: {one.default})"


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("plate", "plate file", {"type": Path}),
        ("--plate FILE ...", "another plate that may be used; may be repeated", {"dest": "more"}),
        ("--repeat-sheets", _help("repeat_sheets")),
        ("--credit SHARE", "worth of a usable rest, as a share of its plate's price by area, 0 to 1 (default 0.5)", {"type": float, "default": 0.5}),
        ("parts PART[:N[:WORD...]]", "part files with quantity", {"nargs": "+"}),
        ("-o --output FILE", "layout file to write", {"required": True}),
        ("--keepout PLACE ...", "'magnet @ 80,80 mm d 60 mm' or 'clamp @ 0,0 mm : 40 x 60 mm'; may be repeated"),
        ("--keepout-height LENGTH", "how far hold-downs stand above the plate (default 50 mm)", {"default": "50 mm"}),
        ("--clear LENGTH", _help("between", "free distance ")),
        ("--clear-edge LENGTH", _help("edge", "free distance ")),
        ("--clear-keepout LENGTH", _help("keepout", "free distance ")),
        ("--turns", _help("turns"), {"choices": ("free", "quarter", "grain"), "default": "free"}),
        ("--seconds S", _help("seconds"), {"type": float, "default": 2.0}),
        ("--steps N", _help("steps"), {"type": int}),
        ("--goal", "what counts when not everything fits: metal, the parts' worth, their number, or complete kits (default metal)", {"choices": ("metal", "money", "count", "kits"), "default": "metal"}),
        ("--threads N", "threads of the search (default: one a core; 1 with --steps)", {"type": int}),
        ("--cut-off", _help("cut_off")),
        ("--common", _help("common")),
        ("--heat", _help("heat")),
        ("--slats LENGTH", _help("slats")),
        ("--slats-run", _help("slats_run"), {"choices": ("y", "x"), "default": "y"}),
        ("--first-slat LENGTH", _help("first_slat")),
        ("--leeway SHARE", _help("leeway"), {"default": "0"}),
        ("--go-on", "start from the layouts in the output files, if they are of these parts and plates; never end worse"),
        ("--seed N", _help("seed"), {"type": int, "default": 1}),
        ("--table TABLE", "also keep within this table's reach (built-in name or TOML file)"),
        ("--chart CHART", "the cut chart that says how long leads are (default: the starter chart)"),
        ("--svg FILE", "also draw it"),
    )  # fmt: skip


def run(args: argparse.Namespace) -> Outcome:
    """Lay and write."""
    from platewright.cli.planning import table_of
    from platewright.layout.advice import proposed, tight
    from platewright.layout.lay import lay
    from platewright.layout.model import Clearance, KeepOut
    from platewright.layout.picture import picture
    from platewright.layout.shape.reach import reach_of
    from platewright.stock.model import Plate
    from platewright.stock.plates import cautions
    from platewright.units import parse

    plates = [Plate.from_dict(document(path, "plate")) for path in (args.plate, *args.more)]
    row = _row(args, plates[0])
    plain = Clearance() if row is None else proposed(row)
    between, edge, keepout = (
        parse(given, where=f"--{name}") if given else usual
        for given, usual, name in (
            (args.clear, plain.part, "clear"),
            (args.clear_edge, plain.edge, "clear-edge"),
            (args.clear_keepout, plain.keepout, "clear-keepout"),
        )
    )
    clear = Clearance(between, edge, keepout)
    height = parse(args.keepout_height, where="--keepout-height")
    keepouts = [
        KeepOut(name or "keep-out", contour, height)
        for name, contour in (named_contour(text, where="--keepout") for text in args.keepout)
    ]
    reach = reach_of(table_of(args.table)) if args.table else None
    saved = _Saved(args.output)
    with _interrupted() as enough:
        made = lay(
            [_wanted(text) for text in args.parts],
            plates,
            keepouts=keepouts,
            clearance=clear,
            reach=reach,
            options=_options(
                args,
                _kerf(_row(args, plates[0], "small gantry")) if args.common else 0.0,
                saved.found() if args.go_on else (),
            ),
            progress=saved.better,
            cancelled=enough.is_set,
        )
    lines, findings = [], [*made.findings, *(() if row is None else tight(clear, row))]
    files = saved.save(made.layouts)
    for number, layout in enumerate(made.layouts, 1):
        if args.svg:
            files.append(save(_numbered(args.svg, number), picture(layout)))
        lines.append(f"{len(layout.placements)} pieces placed on {layout.plate.name}")
        findings += cautions(layout.plate)
    lines.insert(0, f"{clear.part:g} mm between parts, {clear.edge:g} mm to the edge")
    if missing := sum(left.drawn + left.other for left in made.left_over):
        lines[-1] += f", {missing} did not fit"
    return Outcome(lines, made.layouts[0].as_dict(), findings, files)


def _row(args: argparse.Namespace, plate: Plate, usual: str = "") -> ChartRow | None:
    """Return the chart's row for the plate on the table asked for, or the `usual` one; None if it has none."""
    from platewright.cli.planning import chart_of, table_of

    name = args.table or usual
    table = table_of(name) if name else None
    chart = chart_of(args.chart)
    try:
        return chart.row(plate.grade, plate.thickness, table=table).row
    except InputError:
        return None


@contextmanager
def _interrupted() -> Iterator[threading.Event]:
    """Give an event that the first Ctrl-C (or a polite end of the process) sets; a second Ctrl-C ends at once."""
    enough = threading.Event()

    def on_signal(number: int, frame: Any) -> None:
        if enough.is_set():
            raise KeyboardInterrupt
        enough.set()

    if threading.current_thread() is not threading.main_thread():
        yield enough  # only the main thread may listen to signals
        return
    before = {s: signal.signal(s, on_signal) for s in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield enough
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


@dataclass(slots=True)
class _Saved:
    """The layout files as they stand: each better answer replaces them, files no longer needed go."""

    output: Path
    files: list[Path] = field(default_factory=list)
    when: float = -EVERY

    def better(self, progress: Progress) -> None:
        if time.monotonic() - self.when >= EVERY:
            self.save(progress.layouts)

    def found(self) -> tuple[Layout, ...]:
        """Return the layouts in the files from an earlier run."""
        from platewright.layout.model import Layout

        out: list[Layout] = []
        while (path := _numbered(self.output, len(out) + 1)).exists():
            self.files.append(path)
            out.append(Layout.from_dict(document(path, "layout")))
        return tuple(out)

    def save(self, layouts: Sequence[Layout]) -> list[Path]:
        before, self.files = self.files, []
        for number, layout in enumerate(layouts, 1):
            self.files.append(save_document(_numbered(self.output, number), layout.as_dict()))
        for path in before[len(self.files) :]:
            path.unlink(missing_ok=True)
        self.when = time.monotonic()
        return list(self.files)


def _numbered(path: Path, number: int) -> Path:
    """Return the name of the first, second, ... file: gate.layout.json, gate-2.layout.json."""
    stem, dot, rest = path.name.partition(".")
    return path if number == 1 else path.with_name(f"{stem}-{number}{dot}{rest}")


def _kerf(row: ChartRow | None) -> float:
    if row is None:
        raise InputError(
            "Common lines need the kerf, and the cut chart has no row for this metal and thickness.",
            where="--common", do="Give a chart that has one (--chart), or lay without common lines.",
        )  # fmt: skip
    return row.kerf


def _options(args: argparse.Namespace, common: float, before: tuple[Layout, ...]) -> LayOptions:
    from platewright.layout.lay import LayOptions
    from platewright.units import parse

    threads = args.threads or (1 if args.steps is not None else os.cpu_count() or 1)
    return LayOptions(
        seconds=args.seconds, steps=args.steps, seed=args.seed, rotations=args.turns,
        workers=max(1, min(threads, MOST_THREADS)), repeat_sheets=args.repeat_sheets, credit=args.credit,
        goal=args.goal, cut_off=args.cut_off, common=common, before=before, heat=args.heat,
        slats=parse(args.slats, where="--slats") if args.slats else None, slats_run=args.slats_run,
        first_slat=parse(args.first_slat, where="--first-slat") if args.first_slat else None,
        leeway=parse(args.leeway, "ratio", where="--leeway"),
    )  # fmt: skip


MOST_THREADS = 16
"""More threads than this bring nothing [-]."""


def _wanted(text: str) -> Wanted:
    from platewright.layout.model import Wanted
    from platewright.part.model import Part
    from platewright.units import parse

    words = text.split(":")
    drive = len(words[0]) == 1 and len(words) > 1 and words[1][:1] in "\\/"
    name, rest = (":".join(words[:2]), words[2:]) if drive else (words[0], words[1:])
    named = dict(w.split("=", 1) for w in rest if "=" in w)
    numbers = [w for w in rest if w not in ("pairs", "filler", "face-down") and "=" not in w]
    number = numbers[0] if len(numbers) == 1 else "1"
    first, worth = named.pop("first", "0"), named.pop("worth", "")
    turns, clear = named.pop("turns", "") or None, named.pop("clear", "")
    sound = number.isdigit() and int(number) > 0 and first.isdigit() and len(numbers) < 2 and not named
    if not sound or (worth and not worth.replace(".", "", 1).isdigit()):
        raise InputError(
            f"'{text}' is not a part and a quantity.",
            do="Write it like strap.part.json:2, strap.part.json:2:pairs, strap.part.json:2:first=1, strap.part.json:2:worth=12.50, "
            "strap.part.json:2:turns=grain, strap.part.json:2:clear=12 mm, strap.part.json:2:face-down or washer.part.json:50:filler.",
        )
    return Wanted(
        part=Part.from_dict(document(Path(name), "part")), quantity=int(number), pairs="pairs" in rest, priority=int(first),
        filler="filler" in rest, worth=float(worth) if worth else None, turns=cast("Any", turns),
        face_down="face-down" in rest, clearance=parse(clear, where=f"'{text}'") if clear else 0.0,
    )  # fmt: skip
