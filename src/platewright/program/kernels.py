"""The compiled way over plain lines: the same rules as ``reading`` and ``machine``, for lines that need nothing else.

A plain line holds an N word, at most one of G0 to G3, G4 with P, at most one M word the dialect maps to torch, height or
marker, and X Y Z I J R F; comments that are no messages; in G94 and the XY plane, with no G53, parameters or
expressions. Everything else, and everything wrong, stops the kernel before the line, which then goes the ordinary way.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from platewright.program import arcs

__all__ = ["ARGUMENTS", "run_plain"]

_centre = njit(cache=True)(arcs.by_centre)
_radius = njit(cache=True)(arcs.by_radius)

ARGUMENTS = 18
"""Numbers in the state: x y z feed unit motion absolute torch follow marking; shift x y z; mismatch limit, dwell unit,
has z, arcs allowed, bare circle."""

_LETTERS = 26
_TOO_LONG = 15
"""Digits beyond which a number goes the ordinary way [-]: 10^15 is still exact in a double."""

_WARN = math.radians(15)


@njit(cache=True)
def _tokens(
    text: NDArray[np.uint8], start: int, end: int, values: NDArray[np.float64], seen: NDArray[np.int64],
    largest: int,
) -> int:  # fmt: skip
    """Read one line into values by letter; return 0 for an empty line, 1 for a plain one, -1 for any other.

    `seen` counts letters; G and M values lie at their letters too (one of each only, G4 at 26 beside another G).
    """
    # Long because it is the one loop over characters; split, it would be slower and no clearer.
    if end - start > largest:
        return -1
    for k in range(_LETTERS + 1):
        seen[k] = 0
    i, words = start, 0
    while i < end:
        c = text[i]
        if c == 32 or c == 9:
            i += 1
            continue
        if c == 40:  # an opening bracket: a comment
            i += 1
            first = True
            while i < end and text[i] != 41:
                d = text[i]
                if d == 40 or d < 32 or d > 126:
                    return -1
                if first and d != 32:
                    first = False
                    if d == 77 or d == 109:
                        return -1
                i += 1
            if i >= end:
                return -1
            i += 1
            continue
        if 97 <= c <= 122:
            c -= 32
        if c < 65 or c > 90:
            return -1
        i += 1
        while i < end and (text[i] == 32 or text[i] == 9):
            i += 1
        negative = False
        if i < end and (text[i] == 43 or text[i] == 45):
            if c == 78:
                return -1
            negative = text[i] == 45
            i += 1
        mantissa, digits, after, point = 0, 0, 0, False
        while i < end:
            d = text[i]
            if 48 <= d <= 57:
                mantissa = mantissa * 10 + (d - 48)
                digits += 1
                if point:
                    after += 1
                if digits > _TOO_LONG:
                    return -1
            elif d == 46:
                if point or c == 78:
                    return -1
                point = True
            elif d != 32 and d != 9:
                break
            i += 1
        if digits == 0:
            return -1
        value = mantissa / 10.0**after
        if negative:
            value = -value
        k = c - 65
        if k == 13:
            if words > 0 or digits > 5:
                return -1
        elif k == 6 and value == 4.0:
            if seen[_LETTERS] > 0:
                return -1
            k = _LETTERS
        if seen[k] > 0:
            return -1
        seen[k] = 1
        values[k] = value
        words += 1
    return 1 if words > 0 else 0


@njit(cache=True)
def _allowed(seen: NDArray[np.int64], letters: NDArray[np.int64]) -> bool:
    """Tell whether all letters on the line are ones the kernel and the dialect know."""
    for k in range(_LETTERS):  # noqa: SIM110 - the compiler takes no generators
        if seen[k] > 0 and letters[k] == 0:
            return False
    return True


@njit(cache=True)
def _arc_of(
    state: NDArray[np.float64],
    values: NDArray[np.float64],
    seen: NDArray[np.int64],
    x: float,
    y: float,
    clockwise: bool,
) -> tuple[int, float, float, float, float]:
    """Return status (0: leave to the ordinary way), centre, sweep and mismatch of an arc on this line."""
    unit = state[4]
    if seen[17] > 0:
        if seen[8] > 0 or seen[9] > 0 or values[17] == 0.0:
            return 0, 0.0, 0.0, 0.0, 0.0
        status, cx, cy, sweep = _radius(state[0], state[1], x, y, values[17] * unit, clockwise)
        size = abs(sweep)
        if status != 0 or min(abs(size - math.pi), abs(size - 2 * math.pi)) < _WARN:
            return 0, 0.0, 0.0, 0.0, 0.0
        return 1, cx, cy, sweep, 0.0
    if seen[8] == 0 and seen[9] == 0:
        return 0, 0.0, 0.0, 0.0, 0.0
    i = values[8] * unit if seen[8] > 0 else 0.0 * unit
    j = values[9] * unit if seen[9] > 0 else 0.0 * unit
    cx, cy = i + state[0], j + state[1]
    sweep, mismatch = _centre(state[0], state[1], x, y, cx, cy, clockwise)
    if mismatch > state[13] + 1e-9 or math.hypot(state[0] - cx, state[1] - cy) == 0.0:
        return 0, 0.0, 0.0, 0.0, 0.0
    return 1, cx, cy, sweep, mismatch


@njit(cache=True)
def _write(
    real: NDArray[np.float64], whole: NDArray[np.int32], row: int, state: NDArray[np.float64],
    end: tuple[float, float, float], arc: tuple[float, float, float, float], rest: tuple[float, float, int, int],
) -> None:  # fmt: skip
    """Write one move and stand at its end."""
    feed, seconds, kind, line = rest
    real[row, 0], real[row, 1], real[row, 2] = state[0], state[1], state[2]
    real[row, 3], real[row, 4], real[row, 5] = end
    real[row, 6], real[row, 7], real[row, 8], real[row, 11] = arc
    real[row, 9], real[row, 10] = feed, seconds
    whole[row, 0], whole[row, 1] = kind, line
    whole[row, 2] = int(state[7]) + 2 * int(state[8]) + 4 * int(state[9])
    state[0], state[1], state[2] = end


@njit(cache=True)
def run_plain(
    text: NDArray[np.uint8], starts: NDArray[np.int64], ends: NDArray[np.int64], first: int, last: int,
    state: NDArray[np.float64], letters: NDArray[np.int64], meaning: NDArray[np.int8], largest: int,
    real: NDArray[np.float64], whole: NDArray[np.int32], count: int, events: NDArray[np.int32], happened: int,
) -> tuple[int, int, int]:  # fmt: skip
    """Run plain lines; return the first line not run, the number of moves [-] and of events [-].

    State as in `ARGUMENTS` [mm, mm/s]; `meaning` gives for each M word 0 (not ours) or 1 to 6: torch on, torch off,
    follow, hold, mark on, mark off. Events are rows of meaning, M word, line, move.
    """
    # Long because it is the state machine itself, in the order of NISTIR 6556 Table 8.
    values, seen = np.zeros(_LETTERS + 1), np.zeros(_LETTERS + 1, dtype=np.int64)
    for n in range(first, last):
        if count + 2 > len(real) or happened + 1 > len(events):
            return n, count, happened
        kind = _tokens(text, starts[n], ends[n], values, seen, largest)
        if kind == 0:
            continue
        if kind < 0 or not _allowed(seen, letters):
            return n, count, happened
        axes = seen[23] + seen[24] + seen[25]
        motion = state[5]
        if seen[6] > 0:
            motion = values[6]
            if axes == 0 or not (motion == 0.0 or motion == 1.0 or motion == 2.0 or motion == 3.0):
                return n, count, happened
        curved = motion == 2.0 or motion == 3.0
        if axes > 0 and not (motion == 0.0 or motion == 1.0 or curved):
            return n, count, happened
        if seen[25] > 0 and state[15] == 0.0:
            return n, count, happened
        if (seen[8] + seen[9] + seen[17] > 0) and not (curved and axes > 0):
            return n, count, happened
        if (seen[15] > 0) != (seen[_LETTERS] > 0) or (seen[15] > 0 and values[15] < 0.0):
            return n, count, happened
        if seen[5] > 0 and values[5] < 0.0:
            return n, count, happened
        feed = values[5] * state[4] / 60.0 if seen[5] > 0 else state[3]
        if axes > 0 and motion != 0.0 and feed <= 0.0:
            return n, count, happened
        means = 0
        if seen[12] > 0:
            code = int(values[12])
            if code != values[12] or code < 0 or code >= len(meaning) or meaning[code] == 0:
                return n, count, happened
            means = meaning[code]
        x, y, z = state[0], state[1], state[2]
        if state[6] != 0.0:
            x = values[23] * state[4] + 0.0 + state[10] if seen[23] > 0 else x
            y = values[24] * state[4] + 0.0 + state[11] if seen[24] > 0 else y
            z = values[25] * state[4] + 0.0 + state[12] if seen[25] > 0 else z
        else:
            x = x + values[23] * state[4] if seen[23] > 0 else x
            y = y + values[24] * state[4] if seen[24] > 0 else y
            z = z + values[25] * state[4] if seen[25] > 0 else z
        cx, cy, sweep, mismatch = math.nan, math.nan, 0.0, 0.0
        if curved and axes > 0:
            if state[16] == 0.0 or seen[23] + seen[24] == 0:
                return n, count, happened
            status, cx, cy, sweep, mismatch = _arc_of(state, values, seen, x, y, motion == 2.0)
            if status == 0:
                return n, count, happened
        # everything is allowed: do it, in the order of Table 8
        state[3] = feed
        if means > 0:
            if means <= 2:
                state[7] = 1.0 if means == 1 else 0.0
            elif means <= 4:
                state[8] = 1.0 if means == 3 else 0.0
            else:
                state[9] = 1.0 if means == 5 else 0.0
            events[happened, 0], events[happened, 1] = means, int(values[12])
            events[happened, 2], events[happened, 3] = n + 1, count
            happened += 1
        if seen[_LETTERS] > 0:
            here = (state[0], state[1], state[2])
            none = (math.nan, math.nan, 0.0, 0.0)
            _write(real, whole, count, state, here, none, (0.0, values[15] * state[14], 3, n + 1))
            count += 1
        if axes > 0:
            state[5] = motion
            feed = 0.0 if motion == 0.0 else feed
            made = 0 if motion == 0.0 else 2 if curved else 1
            _write(real, whole, count, state, (x, y, z), (cx, cy, sweep, mismatch), (feed, 0.0, made, n + 1))
            count += 1
    return last, count, happened
