"""Energy balance of a cut: what the arc must deliver to melt the kerf, and what leaks into the plate.

``eta U I = v t w h + q(Pe) t``, with arc voltage U [V], current I [A], speed v, thickness t, kerf w, melt enthalpy h
per volume, and the loss per thickness of a hot cylinder of diameter w moving through the plate,
``q = 4 k (Tm - T0) (Pe/2)^0.36`` with ``Pe = v w / (2 alpha)`` (Schulz et al. 1993, an approximation of the
Bessel series of Carslaw and Jaeger; a test compares the two). eta is the share of the arc's power that
ends in the kerf and the plate, fitted to common-practice speeds as ``ln eta = a + b ln I + c (ln I)² + d ln t + e t``:
a stronger arc wastes less, a thick plate takes power that no longer reaches its lower edge.

With eta = 1 and no loss the balance is a floor that no cut can beat; faster entries are refused.
An oxygen flame burns iron, which brings heat of its own: the floor is not applied to it.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from platewright.errors import InputError

__all__ = [
    "Metal", "conduction", "efficiency", "melt_power", "metal", "practice", "speed_for", "speed_limit",
    "starter_kerf", "starter_voltage", "thickest",
]  # fmt: skip

ROOM = 293.0
"""Temperature of the plate before the cut [K]."""


@dataclass(frozen=True, slots=True)
class Metal:
    """Thermal values: melt enthalpy [J/mm³], melting point [K], conductivity [W/(mm K)], diffusivity [mm²/s]."""

    melt: float
    melting: float
    conductivity: float
    diffusivity: float


@cache
def _tables() -> dict[str, Any]:
    text = (files("platewright.table") / "data" / "energy.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def metal(grade: str) -> Metal:
    """Return the thermal values of a grade [J/mm³, K]; coated steel counts as its base metal.

    Raises
    ------
    InputError
        If there are none for it.
    """
    name = "mild steel" if grade == "galvanized steel" else grade
    rows = _tables()["metal"]
    if name not in rows:
        raise InputError(f"There are no thermal values for '{grade}'.", allowed=", ".join(rows))
    row = rows[name]
    return Metal(row["melt_j_mm3"], row["melt_k"], row["conductivity_w_mm_k"], row["diffusivity_mm2_s"])


def melt_power(grade: str, *, thickness: float, kerf: float, speed: float) -> float:
    """Return the power [W] that melting the kerf alone takes; thickness, kerf [mm], speed [mm/s]."""
    heat = metal(grade)
    return heat.melt * thickness * kerf * speed


def conduction(grade: str, *, kerf: float, speed: float) -> float:
    """Return the heat lost to the plate per thickness [W/mm]; kerf [mm], speed [mm/s]."""
    heat = metal(grade)
    peclet = speed * kerf / (2 * heat.diffusivity)
    return 4 * heat.conductivity * (heat.melting - ROOM) * math.pow(peclet / 2, 0.36)


def speed_limit(grade: str, power: float, *, thickness: float, kerf: float) -> float:
    """Return the speed [mm/s] no cut can beat: all arc power [W] melts kerf; thickness, kerf [mm]."""
    return power / (metal(grade).melt * thickness * kerf)


def speed_for(grade: str, power: float, *, thickness: float, kerf: float) -> float:
    """Return the speed [mm/s] at which melting and conduction use up a power [W]; thickness, kerf [mm]."""
    low, high = 0.0, speed_limit(grade, power, thickness=thickness, kerf=kerf)
    for _ in range(60):
        middle = (low + high) / 2
        used = melt_power(grade, thickness=thickness, kerf=kerf, speed=middle)
        used += thickness * conduction(grade, kerf=kerf, speed=middle)
        low, high = (middle, high) if used < power else (low, middle)
    return low


def starter_kerf(amperage: float, thickness: float) -> float:
    """Return the starter chart's kerf [mm] by amperage [A] and thickness [mm], from common practice."""
    return 0.32 * math.pow(amperage, 0.4) + 0.02 * thickness


def starter_voltage(amperage: float, thickness: float, grade: str = "mild steel") -> float:
    """Return the starter chart's arc voltage [V] by amperage [A], thickness [mm] and metal, from common practice."""
    base = "mild steel" if grade == "galvanized steel" else grade
    return (100.0 + 2.3 * thickness + 0.2 * amperage) * float(_tables()["voltage"][base])


def thickest(amperage: float) -> tuple[float, float]:
    """Return the thickest plate an amperage [A] pierces and the thickest it parts from an edge start [mm], common practice."""
    limits = _tables()["limits"]
    found = [
        float(np.interp(amperage, *np.array(limits[name], dtype=np.float64).T)) for name in ("pierce", "part")
    ]
    return found[0], found[1]


def practice(grade: str) -> tuple[tuple[float, float, float], ...]:
    """Return the speeds the starter chart is fitted to: (amperage [A], thickness [mm], speed [mm/s])."""
    base = "mild steel" if grade == "galvanized steel" else grade
    return tuple((float(a), float(t), v / 60.0) for a, t, v in _tables()["practice"][base])


def _terms(amperage: float, thickness: float) -> list[float]:
    return [1.0, math.log(amperage), math.log(amperage) ** 2, math.log(thickness), thickness]


@cache
def _fitted(grade: str) -> tuple[float, ...]:
    """Return the five numbers of the share, by least squares of logarithms over the practice points."""
    terms, logs = [], []
    for amperage, thickness, speed in practice(grade):
        kerf = starter_kerf(amperage, thickness)
        used = melt_power(grade, thickness=thickness, kerf=kerf, speed=speed)
        used += thickness * conduction(grade, kerf=kerf, speed=speed)
        terms.append(_terms(amperage, thickness))
        logs.append(math.log(used / (amperage * starter_voltage(amperage, thickness, grade))))
    return tuple(np.linalg.lstsq(np.array(terms), np.array(logs), rcond=None)[0].tolist())


def efficiency(grade: str, amperage: float, thickness: float) -> float:
    """Return the share of the arc's power that ends in kerf and plate [-] at an amperage [A] and a thickness [mm]."""
    terms = _terms(amperage, thickness)
    return min(1.0, math.exp(sum(f * t for f, t in zip(_fitted(grade), terms, strict=True))))
