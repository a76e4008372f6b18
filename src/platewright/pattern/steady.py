"""Where the light says the edge is, whichever side one comes from: the trust in an edge among grain.

Glossary
--------
start : the outline moved in or out by `OFF`; the light is followed from each (``edges.lit_along``)
steady : a place that all starts lead to
torn : starts ended at two places one wall's width apart: at the edge, and one wall further in or out, where the
    bench passes for the wall or the face does
tone : the cut wall's brightness over the face's
density : share of sure places within a millimetre or two along the outline

A step in the light is easily found among grain, but a wrong one has another nearby, and which of them is found
hangs on where one starts. The edge of a board is the place that is found from either side. Where places are torn
the tone decides, which is one for the whole board. Where hardly a place is sure the edge is not known, however
clear a single look may be.

Cost: six looks at places twice as far apart as the finished outline's, and one at those: about 0.6 s for a metre.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.linalg import spsolve

from platewright.geometry.contour import Floats
from platewright.pattern.corners import UNSEEN
from platewright.pattern.edges import Setting, lit_along, wall_widths
from platewright.pattern.image import Bytes
from platewright.pattern.light import Habits
from platewright.pattern.loops import even, normals_of, softened

__all__ = ["Tried", "bridged", "edge_told", "settled", "wall_tone"]

Mask = NDArray[np.bool_]

OFF = 0.8
"""How far in and out the light is followed from [mm]."""
SOFTER = (0.8, 0.5)
"""How much the outline is softened along itself before each round [mm]."""
COARSE, FINE = 0.8, 0.4
"""Distance of places that are tried, and of the finished outline's [mm]."""
ALIKE = 0.15
"""Starts that end this near to each other found the same edge [mm]."""
WALLED = 0.25
"""A wall seen wider than this can tear places apart [mm]."""
TONE = 0.04
"""How far the wall's tone is off from place to place [-]."""
FEWEST = 20
"""Fewest torn places that the tone is told from [-]."""
EVEN, MARGIN = -0.25, 0.12
"""How much more (log) a wall that is none wanders than its share of the bench, half way between one that is and
one that isn't; nearer to it than the margin neither is believed [-]."""
LIKELY, DECIDED = 1.5, 1.0
"""How far a wall may be off the tone, and how much farther those of other places must be, as squares over twice `TONE` [-]."""
NEAR = 0.4
"""The last look moves the edge by less than this [mm]."""
KNOWN, LEAST_UNKNOWN, MOST_UNKNOWN = 0.05, 0.12, 0.4
"""Standard deviation of a steady place, and least and most of one that is not [mm]."""
ODD = 0.12
"""A place farther off its neighbours' curve counts less and less [mm]."""
STIFF = 30.0
"""What bending costs at `FINE` against places known to a millimetre [-]; it grows with the fourth power of distance."""
AROUND = 1.6
"""Breadth of the bell over which density is taken [mm]."""
SPARSE = 0.3
"""Least density of places that are known [-]."""


def bridged(places: Floats, sd: Floats, unsure: Mask, *, stiff: float) -> Floats:
    """Return places along a closed loop [mm] smoothed by their errors `sd` [mm]; unsure ones follow their neighbours."""
    n = len(places)
    weight = np.where(unsure, 1e-6, 1 / sd**2)
    ones = np.ones(n)
    bend = sparse.diags([ones * -2, ones[1:], ones[1:], [1.0], [1.0]], [0, 1, -1, n - 1, 1 - n])
    system = (sparse.diags(weight) + stiff * bend.T @ bend).tocsc()
    return np.asarray(spsolve(system, weight * places), dtype=np.float64)


def _curve(places: Floats, sd: Floats, along: float) -> Floats:
    """Return a smooth curve through places `along` apart that odd ones hardly move [mm]."""
    stiff = STIFF * (FINE / along) ** 4
    curve = bridged(places, sd, np.zeros(len(places), bool), stiff=stiff)
    for _ in range(5):
        off = places - curve
        curve = bridged(places, sd * np.sqrt(1 + (off / ODD) ** 2), np.abs(off) > OFF, stiff=stiff)
    return curve


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """What three starts say of a loop's feet: places (3, N) along the normals [mm], brightness of the wall [-], its width [mm]."""

    feet: Floats
    normals: Floats
    places: Floats
    walls: Floats
    foots: Floats
    wide: Floats

    @staticmethod
    def of(rgb: Bytes, setting: Setting, points: Floats, *, soft: float, habits: Habits) -> Tried:
        """Follow the light from three starts about a loop (N, 2), softened first by `soft` [mm]."""
        feet = even(softened(even(points, COARSE), soft / COARSE), COARSE)
        normals = normals_of(feet)
        looks = [
            lit_along(rgb, setting, feet + off * normals, normals=normals, along=COARSE, habits=habits)[0]
            for off in (-OFF, 0.0, OFF)
        ]
        places = np.array([off + look.shift for off, look in zip((-OFF, 0.0, OFF), looks, strict=True)])
        walls, foots = (np.array([getattr(look, name) for look in looks]) for name in ("wall", "foot"))
        return Tried(feet, normals, places, walls, foots, wall_widths(feet, normals, setting))

    @property
    def steady(self) -> Mask:
        """Whether all starts ended alike."""
        return np.asarray(np.ptp(self.places, axis=0) < ALIKE)

    @property
    def torn(self) -> Mask:
        """Whether starts ended at two places one wall apart: one of them is the edge, the other a reflection of it."""
        low, high = self.places.min(axis=0), self.places.max(axis=0)
        stray = np.minimum(self.places - low, high - self.places).max(axis=0)
        gap = np.abs(high - low - self.wide) < ODD + 0.25 * self.wide
        return np.asarray((self.wide > WALLED) & gap & (stray < ALIKE) & ~self.steady)

    def ends(self) -> tuple[Floats, Floats, Floats]:
        """Return the innermost and the outermost place [mm], the wall's brightness and that of the bench at its foot [-], (2, N) each."""
        rows = np.arange(self.places.shape[1])
        index = np.stack([self.places.argmin(axis=0), self.places.argmax(axis=0)])
        return self.places[index, rows], self.walls[index, rows], self.foots[index, rows]


def _wandering(values: Floats) -> float:
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


def wall_tone(tried: Sequence[Tried]) -> float | None:
    """Return the brightness of the cut wall over the face's [-], the same all round a board; None if it is not clear.

    Where places are torn, the outer one takes for the wall either the wall or the bench beyond it. A wall is as
    bright as its board, all along; a bench goes on as it begins, so there wall and foot are bright together.
    """
    torn = np.concatenate([np.concatenate(one.ends()[1:])[:, one.torn] for one in tried], axis=1)
    if torn.shape[1] < FEWEST:
        return None
    inner, outer, _, foot = np.log(np.clip(torn, 0.02, 3.0))
    bench = np.log(_wandering(outer) + 1e-3) - np.log(_wandering(outer - foot) + 1e-3)
    if abs(bench - EVEN) < MARGIN:
        return None
    # the middle start is right more often than not: the tone is where its walls crowd, if the torn places agree
    told = np.concatenate([one.walls[1][one.wide > WALLED] for one in tried])
    crowd = np.exp(-0.5 * ((told[:, None] - told) / TONE) ** 2).sum(axis=0)
    tone = float(np.median(told[np.abs(told - told[np.argmax(crowd)]) < 2 * TONE]))
    off = [abs(tone - float(np.exp(np.median(v)))) for v in (inner, outer)]
    return tone if (off[0] < off[1]) == (bench > EVEN) else None


def edge_told(one: Tried, tone: float | None) -> tuple[Floats, Mask]:
    """Return where the edge is on each line [mm], the middle start's word where nothing else is known, and whether it is sure."""
    if tone is None:
        return one.places[1], one.steady
    rows = np.arange(one.places.shape[1])
    badness = ((one.walls - tone) / (2 * TONE)) ** 2
    best = badness.argmin(axis=0)
    place, least = one.places[best, rows], badness[best, rows]
    elsewhere = np.abs(one.places - place) > ALIKE
    rival = np.where(elsewhere, badness, np.inf).min(axis=0)
    # what starts end at lies up to a wall apart; farther out is another matter
    near = np.abs(place - one.places[1]) < ODD + 1.25 * one.wide
    sure = (one.wide > WALLED) & ~one.steady & near & (least < LIKELY) & (rival - least > DECIDED)
    return np.where(sure, place, one.places[1]), np.asarray(one.steady | sure)


def _moved(one: Tried, tone: float | None) -> tuple[Floats, Floats, Floats]:
    """Return the loop moved to what the starts say, how surely (standard deviations) [mm], and the density there [-]."""
    places, sure = edge_told(one, tone)
    loose = np.clip(np.ptp(one.places, axis=0) / 2, LEAST_UNKNOWN, MOST_UNKNOWN)
    sd = np.where(sure, KNOWN, loose)
    curve = _curve(places, sd, COARSE)
    near = sure & (np.abs(places - curve) < ALIKE)
    density = softened(near.astype(np.float64), AROUND / COARSE)
    return one.feet + curve[:, None] * one.normals, sd, density


def _habits(rgb: Bytes, setting: Setting, loop: Floats) -> Habits:
    """Return the picture's habits, learnt along the outer loop (N, 2) [mm]."""
    feet = even(softened(even(loop, COARSE), SOFTER[0] / COARSE), COARSE)
    return lit_along(rgb, setting, feet, normals=normals_of(feet), along=COARSE)[0].habits


def _finished(
    rgb: Bytes, setting: Setting, points: Floats, sd: Floats, density: Floats, *, habits: Habits
) -> tuple[Floats, Floats]:
    """Return the loop as fine as outlines are, and each point's standard deviation [mm]."""
    feet = even(softened(even(points, FINE), 0.5 / FINE), FINE)
    normals = normals_of(feet)
    at = np.linspace(0, 1, len(feet), endpoint=False)
    was = np.linspace(0, 1, len(density), endpoint=False)
    density, sd = (np.interp(at, was, v, period=1.0) for v in (density, sd))
    shift = lit_along(rgb, setting, feet, normals=normals, along=FINE, habits=habits)[0].shift
    curve = _curve(np.where(np.abs(shift) < NEAR, shift, 0.0), sd, FINE)
    # measured on our own camera, the error falls with density: 0.2 mm where sparse, 0.06 mm where all are sure
    error = np.where(density < SPARSE, UNSEEN, 0.06 / np.maximum(density, SPARSE))
    return feet + curve[:, None] * normals, error


def settled(rgb: Bytes, setting: Setting, loops: Sequence[Floats]) -> list[tuple[Floats, Floats]]:
    """Move the loops of a board onto its edge by following the light from several starts.

    Parameters
    ----------
    rgb : the photo
    loops : (N, 2) each, within about half a millimetre of the edge; metal on the left of travel [mm]
    setting : camera, heights [mm], blur [px]

    Returns
    -------
    of each loop points and their standard deviation across the edge, `corners.UNSEEN` where it is not known [mm]
    """
    found, habits = [(loop, np.ones(1), np.ones(1)) for loop in loops], _habits(rgb, setting, loops[0])
    for soft in SOFTER:
        tried = [Tried.of(rgb, setting, points, soft=soft, habits=habits) for points, _, _ in found]
        tone = wall_tone(tried)
        found = [_moved(one, tone) for one in tried]
        habits = _habits(rgb, setting, found[0][0])
    return [_finished(rgb, setting, *one, habits=habits) for one in found]
