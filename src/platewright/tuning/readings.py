"""The readings file: written with blanks to fill in, read back with every slip told in a sentence.

The top is for the shop: a line a size, in the units of its own caliper, and a line a strip. The bottom is the coupon's own
memory (what was asked, which kerf each path was set off by), so that the readings can be understood when chart or program
have long changed.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence

from platewright.errors import InputError
from platewright.table.settings import Section, read_toml
from platewright.tuning.looks import LOOKS, looks_of
from platewright.tuning.model import DROSS, Dross, Job, Readings, Rung, Sheet, Size
from platewright.units import parse, show

__all__ = ["FORMAT", "blank", "filled_in", "read", "sheet_in"]

FORMAT = "platewright-readings-1"
INCH = 25.4


def blank(sheet: Sheet, *, unit: str = "mm") -> str:
    """Return the file's text with nothing filled in, sizes shown in a unit [mm or in]."""
    speed = "in/min" if unit == "in" else "mm/min"
    rows = "" if not sheet.rungs else (
        "\n# Turn each strip over and look at the dross. Shortest strip is number 1. Say one or two of:\n"
        + "".join(f"#   {word:<6} {meaning}\n" for word, meaning in DROSS.items())
        + "[dross]\n"
        + "".join(f'strip_{r.number} = [""]  # {show(r.length, unit, digits=2)} long, {show(r.speed, speed, digits=0)}\n' for r in sheet.rungs)
    )  # fmt: skip
    lines = [
        f"# Readings of the coupon for {sheet.job.text()}.",
        '# Fill in what you measured, with its unit ("50.3 mm", "1.98 in"); leave "" where you did not. The letters are on the paper.',
        f'format = "{FORMAT}"',
        f'unit = "{unit}"  # of numbers written without one',
        *(
            ['square_measured_with = "tape"  # or "caliper"']
            if any(z.kind == "square" for z in sheet.sizes)
            else []
        ),
        "",
        "# What an ordinary cut with these settings looked like, any of (each moves a setting by common practice):",
        *(f"#   {look.word:<12} {look.signs}" for look in LOOKS.values()),
        'looks = [""]',
        "",
        "[measured]",
    ]
    for s in sheet.sizes:
        empty = ", ".join(['""'] * s.readings)
        lines.append(f"{s.key} = [{empty}]  # {s.what}; asked {show(s.nominal, unit)}")
    return "\n".join(lines) + "\n" + rows + _memory(sheet)


def _memory(sheet: Sheet) -> str:
    job = sheet.job
    lines = [
        "\n# ---- the coupon's own memory: do not change what stands below ----",
        "[coupon]",
        f'process = "{job.process}"',
        f'grade = "{job.grade}"',
        f'thickness = "{job.thickness:.6g} mm"',
        f'amperage = "{job.amperage:.6g} A"',
        f'kerf = "{job.kerf:.6g} mm"',
        f'cut_speed = "{job.speed * 60:.9g} mm/min"',
    ]
    for s in sheet.sizes:
        lines += ["", "[[size]]", f'key = "{s.key}"', f"what = {json.dumps(s.what)}", f'kind = "{s.kind}"']
        lines += [f'asked = "{s.nominal:.9g} mm"', f'kerf = "{s.kerf:.6g} mm"']
        lines += [f'{key} = "{value}"' for key, value in (("way", s.way), ("edge", s.edge)) if value]
    for r in sheet.rungs:
        lines += [
            "",
            "[[rung]]",
            f"number = {r.number}",
            f'speed = "{r.speed * 60:.9g} mm/min"',
            f'length = "{r.length:.6g} mm"',
        ]
    return "\n".join(lines) + "\n"


def read(text: str, *, where: str = "readings file") -> Readings:
    """Return the readings [mm] of a filled-in file.

    Raises
    ------
    InputError
        Naming file, line and key: not readable, nothing filled in, an inch read as a millimetre, a reading that
        cannot be of this size, a word for dross that is not known.
    """
    top = read_toml(text, name=where)
    top.text("format", one_of=(FORMAT,))
    sheet, unit = _sheet(top)
    by = top.text("square_measured_with", "tape", one_of=("tape", "caliper"))
    looks = tuple(w.strip().lower() for v in top.values("looks") for w in str(v).split(",") if w.strip())
    looks_of(looks, where=top.where("looks") if looks else "")
    section = top.section("measured")
    measured = {s.key: got for s in sheet.sizes if (got := _readings(section, s, unit))}
    section.finish()
    dross = _dross(top.section("dross"), sheet.rungs) if top.has("dross") else {}
    top.finish()
    if not measured and not dross and not looks:
        raise InputError(
            "No reading has been filled in.",
            where=where,
            do='Write what you measured between the quotes, such as A_top = ["80.3 mm"].',
        )
    return Readings(sheet, measured, dross, "caliper" if by == "caliper" else "tape", looks)


def sheet_in(text: str) -> tuple[Sheet, str]:
    """Return the sheet a readings file remembers [mm], and the unit of bare numbers in it."""
    return _sheet(read_toml(text, name="coupon"))


def filled_in(
    text: str,
    *,
    measured: Mapping[str, Sequence[str]],
    dross: Mapping[str, str],
    looks: Sequence[str],
    square_by: str,
) -> Readings:
    """Return the readings [mm] of a file with what was written down elsewhere.

    Parameters
    ----------
    text : of a readings file, filled in or not
    measured : readings by the size's key, as said, empty ones left out
    dross : words by the strip's number, several parted by commas
    looks : words of `looks`
    square_by : what the big square was measured with, ``tape`` or ``caliper``

    Raises
    ------
    InputError
        Naming the size or strip: not read, or it cannot be; or that nothing is filled in.
    """
    sheet, unit = sheet_in(text)
    got: dict[str, tuple[float, ...]] = {}
    for size in sheet.sizes:
        values = []
        for typed in measured.get(size.key, ()):
            if typed.strip():
                values.append(parse(typed, unit=unit, where=size.key))
                _check_reading(values[-1], size, typed, size.key)
        if values:
            got[size.key] = tuple(values)
    words: dict[int, tuple[Dross, ...]] = {}
    for rung in sheet.rungs:
        text_of = [w.strip().lower() for w in dross.get(str(rung.number), "").split(",") if w.strip()]
        if text_of:
            words[rung.number] = _agreeing(text_of, f"strip {rung.number}")
    looks_of(looks, where="looks")
    if not got and not words and not looks:
        raise InputError(
            "No reading has been filled in.",
            where="readings",
            do="Type what you measured, or say what it looked like.",
        )
    return Readings(sheet, got, words, "caliper" if square_by == "caliper" else "tape", tuple(looks))


def _sheet(top: Section) -> tuple[Sheet, str]:
    sizes = tuple(_size(s) for s in top.sections("size"))
    rungs = tuple(_rung(s) for s in top.sections("rung")) if top.has("rung") else ()
    return Sheet(_job(top.section("coupon")), sizes, rungs), top.text("unit", "mm", one_of=("mm", "in", "cm"))


def _job(section: Section) -> Job:
    made = Job(
        process=section.text("process"),
        grade=section.text("grade"),
        thickness=section.quantity("thickness", "length", low=0.3, high=300),
        amperage=section.quantity("amperage", "current", low=0, high=1000),
        kerf=section.quantity("kerf", "length", low=0.2, high=15),
        speed=section.quantity("cut_speed", "speed", low=0.5, high=1000),
    )
    section.finish()
    return made


def _size(section: Section) -> Size:
    kind = section.text("kind", one_of=("outside", "inside", "hole", "square", "diagonal"))
    way = section.text("way", one_of=("across", "up")) if section.has("way") else ""
    edge = section.text("edge", one_of=("top", "bottom")) if section.has("edge") else ""
    made = Size(
        key=section.text("key"),
        what=section.text("what"),
        kind=kind,  # type: ignore[arg-type]  # one of the literals, held by one_of
        nominal=section.quantity("asked", "length", low=0.5, high=30_000),
        kerf=section.quantity("kerf", "length", low=0.2, high=15),
        way=way,  # type: ignore[arg-type]  # as above
        edge=edge,  # type: ignore[arg-type]  # as above
    )
    section.finish()
    return made


def _rung(section: Section) -> Rung:
    made = Rung(
        round(section.number("number", low=1, high=100)),
        section.quantity("speed", "speed", low=0.1, high=2000),
        section.quantity("length", "length", low=1, high=5000),
    )
    section.finish()
    return made


def _readings(section: Section, size: Size, unit: str) -> tuple[float, ...]:
    """Return the readings of one size [mm], each held against the size asked for."""
    got = []
    for text in section.values(size.key):
        where = section.where(size.key)
        value = parse(text, unit=unit, where=where)
        _check_reading(value, size, text, where)
        got.append(value)
    return tuple(got)


def _check_reading(value: float, size: Size, text: str | float, where: str) -> None:
    reminder = f"The size asked for is {show(size.nominal)} ({show(size.nominal, 'in')})."
    if value <= 0:
        raise InputError(f"'{text}' is not a size.", where=where, allowed="above 0")
    for factor, slip in (
        (INCH, "inches, and it is a reading in millimetres"),
        (1 / INCH, "millimetres, and it is a reading in inches"),
    ):
        if abs(math.log(value / (size.nominal * factor))) < math.log(1.2):
            raise InputError(
                f"'{text}' is taken as {slip}, or so it seems: it is {'25.4 times too large' if factor > 1 else '25.4 times too small'}. {reminder}",
                where=where,
                do="Write the unit beside the number.",
            )
    room = max(3.0, 2 * size.kerf, 0.02 * size.nominal)
    if abs(value - size.nominal) > room:
        raise InputError(
            f"'{text}' lies {show(abs(value - size.nominal), digits=1)} from what was asked; no kerf does that. {reminder}",
            where=where,
            allowed=f"{show(size.nominal - room, digits=1)} to {show(size.nominal + room, digits=1)}",
            do=f"Check that it is the reading of {size.key}: {size.what}.",
        )


def _dross(section: Section, rungs: Sequence[Rung]) -> dict[int, tuple[Dross, ...]]:
    found: dict[int, tuple[Dross, ...]] = {}
    for rung in rungs:
        key = f"strip_{rung.number}"
        words = [w.strip().lower() for v in section.values(key) for w in str(v).split(",")]
        if words:
            found[rung.number] = _agreeing(words, section.where(key))
    section.finish()
    return found


def _agreeing(words: Sequence[str], where: str) -> tuple[Dross, ...]:
    """Return the words said of a strip, each once [-], if it can be all of them at once."""
    for word in words:
        if word not in DROSS:
            raise InputError(f"'{word}' is not a word for dross.", where=where, allowed=", ".join(DROSS))
    if ("none" in words and len(set(words)) > 1) or ("soft" in words and {"hard", "uncut"} & set(words)):
        raise InputError(
            f"A strip cannot be {' and '.join(words)} at once.",
            where=where,
            do="Say what most of its length shows.",
        )
    return tuple(dict.fromkeys(words))  # type: ignore[arg-type]  # words of DROSS, held above
