"""Cut a coupon, say what it measures, and correct the cut chart.

'tune coupon' makes the coupon for a thickness and amperage: layout, proven program, rehearsal, a sheet to write on and a
file to fill in. 'tune read' works out kerf, speed, lean, holes and the table's squareness from it, each with its
uncertainty, and writes the chart that --chart reads. Sizes may be filled in as 50.3 mm or 1.98 in.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from platewright.cli.common import Outcome, declare, read_text, save, save_document, stem
from platewright.cli.planning import chart_of, context_of, layout_of, planning_options, table_of
from platewright.errors import InputError

if TYPE_CHECKING:
    from platewright.stock.model import Plate
    from platewright.table.chart import Chart
    from platewright.table.model import ChartRow
    from platewright.tuning.coupons import Coupon
    from platewright.tuning.model import Result

EXAMPLES = """examples:
  platewright tune coupon --thickness "6 mm" --amps "45 A" -o coupon-6mm
  platewright tune coupon --thickness "1/4 in" --amps "45 A" --square "12 in" --unit in --table my-table.toml -o coupon
  platewright tune coupon --with gate.layout.json --amps "45 A" -o gate-with-coupon
  platewright tune read coupon-6mm/coupon.readings.toml -o my-chart.toml
  platewright tune read coupon/coupon.readings.toml --chart my-chart.toml -o my-chart.toml
  platewright tune read coupon-6mm/coupon.readings.toml coupon/coupon.readings.toml --chart my-chart.toml -o my-chart.toml"""


def options(parser: argparse.ArgumentParser) -> None:
    """Add this command's options."""
    declare(
        parser,
        ("task", "make a coupon, or read what was measured", {"choices": ("coupon", "read")}),
        ("readings", "for read: the readings file, filled in; of several coupons of one job the last one last", {"nargs": "*", "type": Path}),
        ("-o --output PATH", "for coupon: the folder to write to; for read: the corrected chart (its history is kept beside it)", {"type": Path}),
        ("--thickness LENGTH", "of the plate, for example 6 mm or 10 ga"),
        ("--grade", "of the plate (default: mild steel)", {"default": "mild steel", "action": "store"}),
        ("--square LENGTH", "also a big square of this side, to measure the table's axes"),
        ("--with FILE", "lay the coupon with this job's layout, on metal its pieces leave; the program cuts both", {"dest": "job"}),
        ("--plate SIZE", 'the drop to cut it from, for example "300 x 240 mm"; fewer strips where it is small'),
        ("--layout FILE", "for read: the next job's layout; what the new settings change in it is told"),
        ("--unit", "unit on the paper, of bare readings, and of what is said", {"choices": ("mm", "in"), "default": "mm"}),
        ("--paper PAGE", "letter or A4", {"default": "letter"}),
        ("--date DAY", "day of the readings (default: today)"),
    )  # fmt: skip
    planning_options(parser)


def run(args: argparse.Namespace) -> Outcome:
    """Make a coupon, or read one."""
    return _coupon(args) if args.task == "coupon" else _read(args)


def _coupon(args: argparse.Namespace) -> Outcome:
    from platewright.materials import grade
    from platewright.tuning.coupons import coupon, picked_row
    from platewright.units import parse

    if args.output is not None and args.job is not None:
        return _with_job(args)
    if args.output is None or args.thickness is None:
        raise InputError(
            "A coupon needs a thickness and a folder.",
            do='Write it like --thickness "6 mm" --amps "45 A" -o coupon-6mm.',
        )
    metal, context = grade(args.grade).name, context_of(args)
    table, chart = context.table(), context.chart()
    thick = parse(args.thickness, metal=metal, where="--thickness")
    side = parse(args.square, where="--square") if args.square else 0.0
    if args.square and not 100 <= side <= 3000:
        raise InputError(
            f"A square of {side:g} mm does not measure a table.", where="--square", allowed="100 to 3000 mm"
        )
    picked = picked_row(chart, metal, thick, amperage=context.options().amperage, table=table)
    return _written(
        args, coupon(picked.row, table, square=side, plate=_drop(args.plate, metal, thick)), chart
    )


def _with_job(args: argparse.Namespace) -> Outcome:
    """Make a coupon laid with a job: metal, thickness and, unless said, amperage are the job's [mm, A]."""
    from platewright.tuning.coupons import beside, picked_row
    from platewright.units import parse

    if args.thickness is not None or args.plate is not None:
        raise InputError(
            "A coupon laid with a job has the job's plate.", do="Leave out --thickness and --plate."
        )
    job = layout_of(args.job)
    context = context_of(args, layout=job)
    table, chart = context.table(), context.chart()
    side = parse(args.square, where="--square") if args.square else 0.0
    amps = context.chosen().amperage
    picked = picked_row(chart, job.plate.grade, job.plate.thickness, amperage=amps, table=table)
    return _written(args, beside(job, picked.row, table, square=side), chart)


def _drop(text: str | None, metal: str, thickness: float) -> Plate | None:
    """Return the drop to cut from [mm], None where none is said."""
    from platewright.stock.model import Plate
    from platewright.units import parse

    if text is None:
        return None
    words = text.lower().replace("×", "x").split("x")
    if len(words) != 2:
        raise InputError(f"'{text}' is no size of a drop.", where="--plate", allowed='such as "300 x 240 mm"')
    unit = "in" if "in" in words[1] or '"' in words[1] else "mm"
    width, height = (parse(w, unit=unit, where="--plate") for w in words)
    return Plate.sheet("drop", width, height, thickness, metal)


def _written(args: argparse.Namespace, made: Coupon, chart: Chart) -> Outcome:
    """Plan, write and prove the coupon; nothing is written if the proof stops it."""
    from platewright.tuning.kit import kit_of
    from platewright.tuning.readings import blank
    from platewright.tuning.sheet import SheetOptions, picture, readings_sheet

    table = table_of(args.table)
    kit = kit_of(made, chart, table)
    if kit.stopped:
        return Outcome(
            ["The coupon cannot be cut as it is; nothing was written."], {"verdict": "stop"}, kit.findings
        )
    sheet, program = kit.sheet, kit.program
    on_paper = SheetOptions(args.paper, args.unit, program.name, program.sha256(), kit.verdict)
    folder: Path = args.output
    folder.mkdir(parents=True, exist_ok=True)
    filled = folder / "coupon.readings.toml"
    if filled.exists() and read_text(filled) != blank(sheet, unit=args.unit):
        raise InputError(
            f"'{filled}' is there already, perhaps filled in.", do="Read it first, or take another folder."
        )
    files = [
        save_document(folder / "coupon.layout.json", made.whole.as_dict()),
        save(folder / program.name, program.text.encode("ascii", "surrogateescape")),
        save(folder / kit.rehearsal.name, kit.rehearsal.text.encode("ascii", "surrogateescape")),
        save(folder / "coupon.pdf", readings_sheet(made, sheet, on_paper)),
        save(folder / "coupon.svg", picture(made)),
        save(filled, blank(sheet, unit=args.unit)),
    ]
    box = made.whole.plate.profile.bounds()
    with_job = (
        f", laid with the {made.first} pieces of the job and cut by the same program" if made.first else ""
    )
    lines = [
        f"Coupon for {sheet.job.text()}{with_job}: needs a plate of {box.width:.0f} x {box.height:.0f} mm ({box.width / 25.4:.1f} x {box.height / 25.4:.1f} in), {kit.minutes:.0f} min.",
        f"The proof says {kit.verdict}. Rehearse first, cut, let it cool, fill in {filled.name}, then 'platewright tune read'.",
        *_started_from(made.row),
        *_warned(sheet.job.grade),
    ]
    return Outcome(
        lines,
        {"verdict": kit.verdict, "sizes": [s.key for s in sheet.sizes], "program_sha256": program.sha256()},
        kit.findings,
        files,
    )


def _started_from(row: ChartRow) -> list[str]:
    """Return what a starting point's figures are, how far they may be off, and where each comes from [mm, s]."""
    from platewright.tuning.preview import starting_point

    sentences = [
        f"  {label} {value} ({low_high}); {origin}" for label, value, low_high, origin in starting_point(row)
    ]
    return (
        ["It starts from figures nobody measured here, with the band each may lie in:", *sentences]
        if sentences
        else []
    )


def _warned(grade: str) -> list[str]:
    """Return the cautions of cutting this grade with their sources [-]."""
    from platewright.cautions import cautions, closing

    return [*(f"{c.title}: {c.text} ({c.source})" for c in cautions(grade)), closing()]


def _read(args: argparse.Namespace) -> Outcome:
    from datetime import date

    from platewright.table.chart_file import write_chart
    from platewright.tuning.correct import corrected, entry, result_of, summary
    from platewright.tuning.readings import read

    if not args.readings:
        raise InputError(
            "There is no readings file to read.", do="Name the file 'tune coupon' wrote, filled in."
        )
    if args.output is not None and args.output.exists() and args.chart is None:
        raise InputError(
            f"'{args.output}' is there already; its rows would be lost.",
            do=f"Give it as the chart to correct: --chart {args.output}.",
        )
    *earlier, last = (read(read_text(path), where=str(path)) for path in args.readings)
    result = result_of(last, earlier=earlier)
    day = args.date or date.today().isoformat()
    line, lines, files = entry(result, date=day), summary(result, unit=args.unit), []
    if args.layout is not None:
        lines += _next_job(args, result)
    if args.output is not None:
        before = chart_of(args.chart)
        after = corrected(before, result, note=f"measured {day} from {args.readings[-1].name}")
        if after is before:
            lines.append("Nothing of this is for the chart; it is not written.")
        else:
            named = after if args.chart else replace(after, name=stem(args.output))
            files.append(save(args.output, write_chart(named)))
            lines.append(
                f"Plan with it: --chart {args.output}. Only the row for {result.job.text()} has changed."
            )
        files.append(_history(args.output, line))
    return Outcome(lines, line, result.findings, files)


def _next_job(args: argparse.Namespace, result: Result) -> list[str]:
    """Return what the new settings change in the next job, before they are used [mm, s]."""
    from platewright.tuning.correct import corrected
    from platewright.tuning.preview import compared

    context = context_of(args, layout=layout_of(args.layout))
    before = context.chart()
    after = corrected(before, result)
    found = compared(context.layout(), (before, after), context.table(), dialect=context.dialect())
    return [
        f"{args.layout.name}, planned again:",
        *(f"  {label}: {old} -> {new}" for label, old, new in found),
    ]


def _history(chart: Path, line: dict[str, object]) -> Path:
    """Append a result to the history beside the chart."""
    path = chart.with_suffix(".history.jsonl")
    before = read_text(path) if path.is_file() else ""
    return save(path, before + json.dumps(line, ensure_ascii=False) + "\n")
