"""What a layout costs, line by line, and what each part on it costs.

Every line is rounded to the cent and shared out among the copies on the plate so that the parts sum to the job
exactly. The plate is charged by the area of the parts plus their share of the scrap; what remains usable is
credited as a drop.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from decimal import Decimal
from typing import Any

from platewright.errors import InputError
from platewright.materials import grade
from platewright.price.money import apportion, coin, money, price_by_margin, price_by_markup
from platewright.units import duration, quoted

__all__ = ["OTHER_UNITS", "Copy", "Cost", "CostLine", "Job", "Rates", "cost"]

HOUR = Decimal(3600)
FINISHES = ("paint", "powder", "rust")
"""Finishes that are priced by area, if their rate is above 0."""


def _rate(default: str, label: str, unit: str, note: str) -> Any:
    return field(default=Decimal(default), metadata={"label": label, "unit": unit, "note": note})


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """The shop's rates; every default is a starting point with a note how to find one's own [currency]."""

    currency: str = "USD"
    steel_per_kg: Decimal = _rate("2.20", "Steel", "per kg", "Divide your last steel bill by its weight.")
    scrap_per_kg: Decimal = _rate("0.15", "Scrap", "per kg", "What the scrap yard pays you.")
    machine_per_hour: Decimal = _rate(
        "18",
        "Machine",
        "per hour",
        "Price of table, cutter and compressor over their life in hours, plus upkeep and floor space.",
    )
    labour_per_hour: Decimal = _rate("45", "Labour", "per hour", "What an hour of yours must bring.")
    consumables_per_pierce: Decimal = _rate(
        "0.06", "Consumables", "per pierce", "Price of a nozzle and electrode over the pierces a set lasts."
    )
    consumables_per_arc_hour: Decimal = _rate(
        "9", "Consumables", "per arc hour", "Price of a set over the arc hours it lasts."
    )
    power_per_kwh: Decimal = _rate("0.16", "Power", "per kWh", "Your electricity bill.")
    draw_kw: Decimal = _rate(
        "9", "Power drawn", "kW", "Cutter input plus compressor while the arc is on (name plates)."
    )
    setup_minutes: Decimal = _rate(
        "20", "Set-up", "min", "Fetch plate, zero the table, rehearse, clean up: time three jobs."
    )
    drawing_minutes: Decimal = _rate(
        "10", "Drawing", "min", "Photo or dimensions to a part, for each different part."
    )
    handling_minutes: Decimal = _rate("1.5", "Handling", "min", "Pick out, chip slag, stack: for each piece.")
    finishing_minutes: Decimal = _rate("2", "Finishing", "min", "Grind the edges: for each piece.")
    design_minutes: Decimal = _rate(
        "0", "Design", "min", "Words, picture and the customer's changes of a sign: for the order."
    )
    paint_per_m2: Decimal = _rate(
        "0",
        "Paint",
        "per m²",
        "Primer, paint and your time over the area painted; both faces are counted. 0: none.",
    )
    powder_per_m2: Decimal = _rate(
        "0", "Powder coat", "per m²", "The coater's bill over its area; both faces are counted. 0: none."
    )
    rust_per_m2: Decimal = _rate(
        "0", "Rusted finish", "per m²", "Rusting and sealing over the area; both faces are counted. 0: none."
    )
    overhead_share: Decimal = _rate(
        "0.10", "Overhead", "%", "Rent, insurance, phone over a year's other costs."
    )
    markup_share: Decimal | None = _rate(
        "0.35", "Markup", "%", "Share of cost added. Give this or a margin, not both."
    )
    margin_share: Decimal | None = None
    minimum_charge: Decimal = _rate("35", "Minimum charge", "", "The smallest bill worth writing.")

    @property
    def finish(self) -> str:
        """Return which finish is priced: paint, powder, rust, or none, the empty text [-]."""
        return next((name for name in FINISHES if getattr(self, f"{name}_per_m2") > 0), "")

    def __post_init__(self) -> None:
        if self.markup_share is not None and self.margin_share is not None:
            raise InputError(
                "Both a markup and a margin are given.",
                allowed="one of them",
                do="Markup is a share of cost, margin a share of price.",
            )

    @staticmethod
    def from_dict(document: dict[str, Any], *, where: str = "") -> Rates:
        """Read rates given as text or whole numbers [currency, -, min]; unknown names are refused.

        `where` names the file, or with a dot at its end the part of a document, they stand in.
        """
        known = {f.name for f in fields(Rates)}
        if unknown := set(document) - known:
            raise InputError(
                f"Unknown rate {', '.join(sorted(unknown))}.", where=where, allowed=", ".join(sorted(known))
            )
        units = {f.name: str(f.metadata.get("unit", "")) for f in fields(Rates)} | {"margin_share": "%"}
        read: dict[str, Any] = {
            name: str(value)[:12]
            if name == "currency"
            else None
            if value is None
            else _read(
                value,
                units[name],
                where=f"{where}{name}" if where.endswith(".") else f"{where} {name}".strip(),
            )
            for name, value in document.items()
        }
        if read.get("margin_share") is not None:
            read.setdefault("markup_share", None)
        return Rates(**read)


OTHER_UNITS = {"per kg": ("per lb", Decimal("0.45359237")), "per m²": ("per ft²", Decimal("0.09290304"))}
"""What a rate may be said per instead, and how much of the one the other is; exact (NIST SP 811, appendix B)."""
_PER = re.compile(r"(.+?)\s*(?:/|\bper\b)\s*(kg|lb|m2|m²|ft2|ft²)", re.IGNORECASE)
_MOST_SHARE = 10


def _read(value: object, unit: str, *, where: str) -> Decimal:
    """Read one rate as said: an amount, with what it is per or as a share with % [currency, min, kW, -]."""
    text: Any = value if isinstance(value, int | float | Decimal) else str(value).strip()
    over = Decimal(1)
    if isinstance(text, str) and unit == "%" and text.endswith("%"):
        text, over = text[:-1].strip(), Decimal(100)
    elif isinstance(text, str) and unit and text.endswith(unit):
        text = text.removesuffix(unit).strip()
    elif isinstance(text, str) and (found := _PER.fullmatch(text)):
        other, share = OTHER_UNITS.get(unit, ("", Decimal(1)))
        per = f"per {found[2].lower().replace('2', '²')}"
        if per not in (unit, other):
            raise InputError(
                f"'{quoted(value)}' is not said {unit or 'for a bill'}.",
                where=where,
                allowed=f"an amount {unit}".strip(),
            )
        text, over = found[1], share if per == other else over
    read = money(text, where=where) / over
    if read < 0:
        raise InputError(f"The rate is {quoted(value)}.", where=where, allowed="0 or more")
    if unit == "%" and read > _MOST_SHARE:
        raise InputError(
            f"{quoted(value)} is more than {_MOST_SHARE * 100} %.", where=where, allowed=f"0 % to {_MOST_SHARE * 100} %",
            do="Write it with a percent sign, like 35 %.",
        )  # fmt: skip
    return read


@dataclass(frozen=True, slots=True)
class Copy:
    """One piece to make: its name, area of metal [mm²], arc time [s] and pierces."""

    name: str
    area: float
    arc_time: float
    pierces: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What was planned for one plate.

    Attributes
    ----------
    copies : the pieces
    grade, thickness : of the plate [mm]
    plate_area : area taken from the rack [mm²]
    drop_area : area that goes back to the rack as usable drops [mm²]
    plate_cost : worth of the whole plate [currency], or None to reckon by weight
    machine_time, arc_time : predicted [s]
    different_parts : how many had to be drawn
    """

    copies: tuple[Copy, ...]
    grade: str
    thickness: float
    plate_area: float
    drop_area: float
    plate_cost: Decimal | None
    machine_time: float
    arc_time: float
    different_parts: int


@dataclass(frozen=True, slots=True)
class CostLine:
    """One line of the cost: name, amount and share of each copy [currency], and how it was reckoned."""

    name: str
    amount: Decimal
    shares: tuple[Decimal, ...]
    how: str


@dataclass(frozen=True, slots=True)
class Cost:
    """The cost of a job with its parts shown [currency]."""

    job: Job
    rates: Rates
    lines: tuple[CostLine, ...]

    @property
    def total(self) -> Decimal:
        """What the job costs the shop [currency]."""
        return sum((line.amount for line in self.lines), Decimal(0))

    @property
    def price(self) -> Decimal:
        """What to ask: cost with markup or margin, not under the minimum charge [currency]."""
        rates = self.rates
        price = (
            price_by_margin(self.total, rates.margin_share)
            if rates.margin_share is not None
            else price_by_markup(self.total, rates.markup_share or Decimal(0))
        )
        return max(coin(price), coin(rates.minimum_charge))

    def by_copy(self) -> tuple[Decimal, ...]:
        """Return what each copy costs; they sum to the total exactly [currency]."""
        return tuple(
            sum(shares, Decimal(0)) for shares in zip(*(line.shares for line in self.lines), strict=True)
        )

    def price_by_copy(self) -> tuple[Decimal, ...]:
        """Return the price shared by cost; it sums to the price exactly [currency]."""
        return apportion(self.price, self.by_copy())

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values; money as text [currency]."""
        names = [c.name for c in self.job.copies]
        return {
            "currency": self.rates.currency,
            "lines": [{"name": ln.name, "amount": str(ln.amount), "how": ln.how} for ln in self.lines],
            "total": str(self.total),
            "price": str(self.price),
            "copies": [
                {"name": n, "cost": str(c), "price": str(p)}
                for n, c, p in zip(names, self.by_copy(), self.price_by_copy(), strict=True)
            ],
        }


def cost(job: Job, rates: Rates = Rates()) -> Cost:
    """Reckon a job's cost [currency].

    Raises
    ------
    InputError
        If there is nothing to make or the grade is unknown.
    """
    if not job.copies:
        raise InputError("There is nothing on this layout to price.", do="Place at least one part.")
    area = [Decimal(str(c.area)) for c in job.copies]
    arc = [Decimal(str(c.arc_time)) for c in job.copies]
    pierces = [Decimal(c.pierces) for c in job.copies]
    each = [Decimal(1)] * len(job.copies)
    lines = [_material(job, rates, area)]

    def add(name: str, amount: Decimal, weights: Sequence[Decimal], how: str) -> None:
        rounded = coin(amount)
        lines.append(CostLine(name, rounded, apportion(rounded, weights), how))

    machine, arc_time = Decimal(str(job.machine_time)), Decimal(str(job.arc_time))
    add(
        "machine time",
        machine / HOUR * rates.machine_per_hour,
        arc,
        f"{duration(float(machine))} at {rates.machine_per_hour} an hour",
    )
    add(
        "consumables",
        sum(pierces) * rates.consumables_per_pierce + arc_time / HOUR * rates.consumables_per_arc_hour,
        arc,
        f"{sum(pierces)} pierces, {duration(float(arc_time))} of arc",
    )
    add(
        "power and air",
        arc_time / HOUR * rates.draw_kw * rates.power_per_kwh,
        arc,
        f"{rates.draw_kw} kW while the arc is on",
    )
    minute = rates.labour_per_hour / 60
    add("set-up", rates.setup_minutes * minute, each, f"{rates.setup_minutes} min once")
    add(
        "drawing",
        job.different_parts * rates.drawing_minutes * minute,
        each,
        f"{job.different_parts} parts, {rates.drawing_minutes} min each",
    )
    add(
        "handling",
        len(each) * rates.handling_minutes * minute,
        each,
        f"{len(each)} pieces, {rates.handling_minutes} min each",
    )
    add(
        "finishing",
        len(each) * rates.finishing_minutes * minute,
        each,
        f"{len(each)} pieces, {rates.finishing_minutes} min each",
    )
    if rates.design_minutes:
        add("design", rates.design_minutes * minute, each, f"{rates.design_minutes} min for the order")
    faces = [2 * a / 1_000_000 for a in area]
    for name in FINISHES:
        rate: Decimal = getattr(rates, f"{name}_per_m2")
        if rate:
            add(name, sum(faces) * rate, area, f"{sum(faces):.2f} m² on both faces at {rate} a m²")
    so_far = sum((line.amount for line in lines), Decimal(0))
    add(
        "overhead",
        so_far * rates.overhead_share,
        [sum(s, Decimal(0)) for s in zip(*(ln.shares for ln in lines), strict=True)],
        f"{rates.overhead_share * 100:f} % of the above",
    )
    return Cost(job, rates, tuple(lines))


def _material(job: Job, rates: Rates, area: Sequence[Decimal]) -> CostLine:
    weight = Decimal(str(grade(job.grade).density * job.thickness))
    taken, back, parts = Decimal(str(job.plate_area)), Decimal(str(job.drop_area)), sum(area)
    used = max(taken - back, parts)
    worth = used * weight * rates.steel_per_kg if job.plate_cost is None else job.plate_cost * used / taken
    scrap = (used - parts) * weight * rates.scrap_per_kg
    amount = coin(worth - scrap)
    how = f"{used * weight:.2f} kg of plate used, of it {parts * weight:.2f} kg in parts; scrap credited {coin(scrap)}"
    return CostLine("plate", amount, apportion(amount, area), how)
