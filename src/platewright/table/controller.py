"""What the controller's dialect makes of a plan, as far as times and ways depend on it.

A dialect is data of ``program``; what planner and proof must know of it is a fact about the table and stands here.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Controller"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Controller:
    """What a program does besides running the path.

    Attributes
    ----------
    lifts : whether the program moves the torch up and down
    touches : whether the program itself touches off before a pierce; else the table does, wherever it lights
    apart : whether its touch-off stands apart from the pierce, so that it can be made elsewhere or left out
    zeroes : whether its touch-off sets the zero of Z
    follows : whether the program switches height control
    waits, stops : whether the program can wait a time, and stop until the operator goes on
    gauge : tip above the plate when the touch-off trips [mm]
    marks : whether there is a marking tool
    marker : the marking tool's place from the torch [mm]
    coasts : whether the word that puts the torch out stands alone, so that the path can go on after it
    chord : how far chords may lie off the arcs they are written for [mm]; 0 where arcs are written as arcs
    mark_wait : pauses of lowering and lifting the marking tool [s]
    grid, feed_grid : what the last digit of a length [mm] and of a feed [mm/s] stands for; 0 for no rounding
    """

    lifts: bool = True
    touches: bool = False
    apart: bool = False
    zeroes: bool = False
    follows: bool = False
    waits: bool = True
    stops: bool = True
    gauge: float = 0.0
    marks: bool = True
    marker: tuple[float, float] = (0.0, 0.0)
    coasts: bool = True
    chord: float = 0.0
    mark_wait: float = 0.0
    grid: float = 0.0
    feed_grid: float = 0.0
