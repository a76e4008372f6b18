"""Setting text: where each letter stands, on a line, on an arc or along an edge."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from platewright.errors import InputError
from platewright.geometry import Box, Contour, Pose, Profile
from platewright.pattern.letters.font import Font, advance, cap_height, has, kerning, line_height
from platewright.pattern.letters.outline import TOLERANCE, letter_shape

__all__ = ["Letter", "Setting", "arc_path", "box_of", "centred", "set_text"]

Align = Literal["left", "middle", "right"]
MOST = 200
"""Most letters of one text [-]."""
JOINED = 0.02
"""Letters that overlap or come this near as the font sets them are meant to join [mm]."""
SHAPED = ("ARABIC", "HEBREW", "DEVANAGARI", "BENGALI", "GURMUKHI", "GUJARATI", "TAMIL", "TELUGU", "KANNADA", "MALAYALAM",
          "SINHALA", "THAI", "LAO", "TIBETAN", "MYANMAR", "KHMER", "MONGOLIAN", "SYRIAC", "THAANA", "NKO")  # fmt: skip
"""Scripts whose letters change with their neighbours, by the first word of their Unicode names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """How a text is set.

    Attributes
    ----------
    height : of a capital H [mm]
    letter_spacing : added between letters [mm]
    line_spacing : distance between lines as a multiple of what the font asks for [-]
    align : which ends of several lines stand above each other
    gap : letters that do not overlap are moved apart until this much is between them [mm]; 0 leaves them
    kern : whether the font's kerning is used
    tolerance : of arcs from the font's curves [mm]
    """

    height: float
    letter_spacing: float = 0.0
    line_spacing: float = 1.0
    align: Align = "left"
    gap: float = 0.0
    kern: bool = True
    tolerance: float = TOLERANCE


@dataclass(frozen=True, slots=True)
class Letter:
    """One letter as it stands: its metal [mm], where its origin is, and the width its pen moved [mm]."""

    text: str
    pose: Pose
    width: float
    shape: tuple[Profile, ...]

    def placed(self) -> tuple[Profile, ...]:
        """Return its metal where it stands [mm]."""
        return tuple(self.pose.apply(p) for p in self.shape)


def checked_text(text: str, font: Font) -> str:
    """Return a text composed and trimmed, or refuse it with what cannot be set (no units, [-])."""
    lines = unicodedata.normalize("NFC", text.replace("\r\n", "\n").replace("|", "\n")).strip("\n")
    if not lines.strip():
        raise InputError("There is no text.", where="text", do="Type what the sign says.")
    if len(lines) > MOST:
        raise InputError(f"The text has {len(lines)} letters.", where="text", allowed=f"up to {MOST}")
    for letter in lines:
        if letter == "\n":
            continue
        if unicodedata.bidirectional(letter) in ("R", "AL", "RLE", "RLO", "RLI"):
            raise InputError(
                f"'{letter}' is written from right to left, which is not set yet.", where="text",
                do="Have the words drawn, and read the drawing in.",
            )  # fmt: skip
        if unicodedata.name(letter, "").split(" ")[0] in SHAPED:
            raise InputError(
                f"'{letter}' belongs to a script whose letters change with their neighbours, which is not set yet.",
                where="text", do="Have the words drawn, and read the drawing in.",
            )  # fmt: skip
        if not letter.isspace() and not has(font, letter):
            raise InputError(
                f"The font '{font.name}' has no letter '{letter}'.",
                where="text",
                do="Leave it out, or use another font.",
            )
    return lines


def set_text(text: str, font: Font, setting: Setting, *, path: Contour | None = None) -> tuple[Letter, ...]:
    """Set a text.

    Parameters
    ----------
    text : lines parted by line breaks or ``|``
    font : which letters
    setting : height and spacing [mm]
    path : an open or closed contour [mm] to stand on, one line only: letters stand on its left side, from its
        start; ``align`` middle and right place the text on an open path's length

    Returns
    -------
    letters in reading order, spaces left out; the first baseline is y = 0 and lines go down from there
    """
    if not (math.isfinite(setting.height) and setting.height > 0):
        raise InputError(f"Letters {setting.height} mm high cannot be.", where="height", allowed="above 0 mm")
    checked = checked_text(text, font)
    lines = checked.split("\n")
    em = setting.height / cap_height(font)
    rows = [_line(line, font, setting, em) for line in lines]
    if path is not None:
        if len(rows) > 1:
            raise InputError(
                "Only one line stands on an arc or edge.", where="text", do="Leave the line breaks out."
            )
        return _on_path(rows[0], path, setting.align)
    widest = max((row[-1].pose.x + row[-1].width for row in rows if row), default=0.0)
    placed: list[Letter] = []
    for n, row in enumerate(rows):
        width = row[-1].pose.x + row[-1].width if row else 0.0
        shift = {"left": 0.0, "middle": (widest - width) / 2, "right": widest - width}[setting.align]
        down = -n * setting.line_spacing * line_height(font) * em
        placed += [replace(one, pose=Pose(one.pose.x + shift, down)) for one in row]
    return tuple(one for one in placed if one.shape)


def _line(line: str, font: Font, setting: Setting, em: float) -> list[Letter]:
    """Return the letters of one line from x = 0, spaces among them [mm]."""
    row: list[Letter] = []
    x = 0.0
    before = ""
    for letter in line:
        sign = " " if letter.isspace() else letter
        drawn = has(font, sign)
        if setting.kern and before and drawn and has(font, before):
            x += kerning(font, before, sign) * em
        width = advance(font, sign) * em if drawn else em / 4
        shape = (
            ()
            if sign == " "
            else letter_shape(font, sign, height=setting.height, tolerance=setting.tolerance)
        )
        one = Letter(letter, Pose(x, 0.0), width, shape)
        if setting.gap > 0:
            x += (more := _too_near(row, one, setting.gap))
            one = replace(one, pose=Pose(one.pose.x + more, 0.0))
        row.append(one)
        x += width + setting.letter_spacing
        before = sign
    return row


def _too_near(row: list[Letter], one: Letter, gap: float) -> float:
    """Return how far a letter must move on to stand clear of the one before it by a gap [mm]; 0 where they join."""
    import shapely
    from shapely import affinity

    before = row[-1] if row else None
    if before is None or not before.shape or not one.shape:
        return 0.0
    first, second = _polygons(before.shape), _polygons(one.shape)
    step, moved = one.pose.x - before.pose.x, 0.0
    apart = shapely.distance(first, affinity.translate(second, step))
    if apart <= JOINED:
        return 0.0
    while apart < gap - 1e-6 and moved < 2 * gap:
        moved += max(gap - apart, 1e-3)
        apart = shapely.distance(first, affinity.translate(second, step + moved))
    return moved


def _polygons(shape: tuple[Profile, ...]) -> object:
    import shapely

    from platewright.geometry.regions.polygons import to_polygon

    return shapely.MultiPolygon([to_polygon(p, tolerance=0.02) for p in shape])


def arc_path(radius: float, *, over: bool = True) -> Contour:
    """Return a path about (0, 0) for text on an arc [mm]: over the top clockwise, or under the bottom counterclockwise."""
    ends = (math.pi, 0.0) if over else (math.pi, math.tau)
    a, b = ((radius * math.cos(t), radius * math.sin(t)) for t in ends)
    bulge = -1.0 if over else 1.0
    return Contour(np.array([[*a, bulge], [*b, 0.0]]), closed=False)


def _on_path(row: list[Letter], path: Contour, align: Align) -> tuple[Letter, ...]:
    """Return letters stood on a path by the middle of each one's advance [mm]."""
    from platewright.geometry.crossing.locate import point_at, tangent_at
    from platewright.geometry.measure import length

    total, width = length(path), row[-1].pose.x + row[-1].width if row else 0.0
    if width > total + 1e-9:
        raise InputError(
            f"The text is {width:.1f} mm long, the arc or edge {total:.1f} mm.", where="text",
            do="Make the letters smaller, or the arc or edge longer.",
        )  # fmt: skip
    start = {"left": 0.0, "middle": (total - width) / 2, "right": total - width}[align]
    placed = []
    for one in row:
        at = start + one.pose.x + one.width / 2
        spot, way = point_at(path, at), tangent_at(path, at)
        angle = math.atan2(way.y, way.x)
        back = one.width / 2
        placed.append(replace(one, pose=Pose(spot.x - back * way.x, spot.y - back * way.y, angle)))
    return tuple(one for one in placed if one.shape)


def box_of(letters: Iterable[Letter]) -> Box:
    """Return the box of placed letters [mm]."""
    return Box.round(p.bounds() for one in letters for p in one.placed())


def centred(letters: Sequence[Letter], x: float, y: float) -> tuple[Letter, ...]:
    """Return letters moved so that the middle of their box is at a place [mm]."""
    at = box_of(letters).middle
    move = Pose(x - at[0], y - at[1])
    return tuple(replace(one, pose=move.after(one.pose)) for one in letters)
