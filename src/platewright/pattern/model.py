"""What a pattern is once it has been read: outlines with their measurement error, and how they were measured."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from platewright.errors import InputError
from platewright.findings import Finding, Verdict, verdict
from platewright.geometry.contour import Contour, Floats
from platewright.pattern.loops import runs

__all__ = ["CameraSolution", "Captured", "Outline", "Straightened", "Uncertainty"]

DOUBTED = 0.8
"""A place that may be off by more is looked at, 95 % [mm]: the most that one place of a good capture is off."""


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A closed loop of measured points, outer loops counterclockwise, holes clockwise.

    Attributes
    ----------
    points : (N, 2), y up [mm]
    sd : (N,) standard deviation of each point across the outline [mm]
    typed : whether the points are a person's clicks (few, at corners) and not a dense trace
    doubt : standard deviation of all points together, outwards or inwards, beside that of each [mm]
    """

    points: Floats
    sd: Floats
    typed: bool = False
    doubt: float = 0.0

    def __post_init__(self) -> None:
        points, sd = np.array(self.points, dtype=np.float64), np.array(self.sd, dtype=np.float64)
        if points.ndim != 2 or points.shape[1:] != (2,) or len(points) < 3 or sd.shape != (len(points),):
            raise InputError(f"An outline needs three or more points with an error each, got {points.shape}.")
        if not (np.isfinite(points).all() and np.isfinite(sd).all()):
            raise InputError("An outline's points must be finite.")
        points.setflags(write=False)
        sd.setflags(write=False)
        object.__setattr__(self, "points", points)
        object.__setattr__(self, "sd", sd)

    def contour(self) -> Contour:
        """Return the loop as straight edges through every point [mm]."""
        return Contour.from_points(self.points)

    def area(self) -> float:
        """Return the signed area [mm²], positive counterclockwise."""
        x, y = self.points.T
        return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))

    def turned(self, *, left: bool) -> Outline:
        """Return the loop running left (counterclockwise) or right, on the same points [mm]."""
        if (self.area() > 0) == left:
            return self
        return replace(self, points=self.points[::-1], sd=self.sd[::-1])

    def bound_95(self) -> Floats:
        """Return how far each point may be off across the outline, 95 % (N,) [mm]."""
        return np.asarray(1.96 * self.sd)

    def doubtful(self) -> list[NDArray[np.int64]]:
        """Return the indices of the points [-] of every stretch that may be off by more than `DOUBTED`."""
        doubted = self.bound_95() > DOUBTED
        if doubted.all():
            return [np.arange(len(doubted))]
        return [(at + np.arange(length)) % len(doubted) for at, length in runs(doubted)]

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values [mm]."""
        return {
            "points_mm": np.round(self.points, 4).tolist(),
            "sd_mm": np.round(self.sd, 4).tolist(),
            "typed": self.typed,
            "doubt_mm": round(self.doubt, 4),
        }

    @staticmethod
    def from_dict(document: dict[str, Any]) -> Outline:
        """Read what `as_dict` wrote [mm]."""
        try:
            points = np.asarray(document["points_mm"], dtype=np.float64)
            sd = np.asarray(document["sd_mm"], dtype=np.float64)
            return Outline(
                points, sd, bool(document.get("typed", False)), float(document.get("doubt_mm", 0.0))
            )
        except (KeyError, TypeError, ValueError) as bad:
            if isinstance(bad, InputError):
                raise
            raise InputError("An outline document needs 'points_mm' and 'sd_mm'.") from bad


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """How true the outlines are, at 95 % confidence.

    Attributes
    ----------
    scale : of any length, as a share of it [-]
    outline : of a place on the outline, the shape laid best on the truth [mm]
    hole : of a hole's place [mm]
    shared : of all places together, outwards or inwards [mm]; None: as that of one place
    """

    scale: float
    outline: float
    hole: float
    shared: float | None = None

    def of_length(self, length: float) -> float:
        """Return the 95 % uncertainty of a measured length [mm] between edges fitted to many places; both its ends err outwards or inwards together."""
        return float(
            np.hypot(self.scale * length, 2 * (self.outline if self.shared is None else self.shared))
        )

    def as_dict(self) -> dict[str, float]:
        """Return plain JSON values; lengths [mm], scale [-]."""
        return {
            "scale_95": self.scale,
            "outline_95_mm": self.outline,
            "hole_95_mm": self.hole,
            "shared_95_mm": self.outline if self.shared is None else self.shared,
        }


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class CameraSolution:
    """The camera as solved from the cards in one photo. World: z = 0 is the paper of the cards, z up.

    Attributes
    ----------
    size : width and height of the picture [px]
    focal, centre : focal length and principal point [px]
    radial, tangential : k1, k2 and p1, p2 [-]
    place, turn : where the lens is [mm] and the (3, 3) turn from world to camera
    reprojection : RMS distance of saddles from where the solution puts them [px]
    blur : blur of edges, as the standard deviation of a Gauss bell [px]
    cards : identities of the cards used
    left_out : share by which each card's own size is missed when it is left out of the solution [-]
    """

    size: tuple[int, int]
    focal: float
    centre: tuple[float, float]
    radial: tuple[float, float]
    tangential: tuple[float, float]
    place: Floats
    turn: Floats
    reprojection: float = 0.0
    blur: float = 0.0
    cards: tuple[int, ...] = ()
    left_out: tuple[float, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values; lengths on the bench [mm], in the picture [px]."""
        return {
            "size_px": list(self.size),
            "focal_px": self.focal,
            "centre_px": list(self.centre),
            "radial": list(self.radial),
            "tangential": list(self.tangential),
            "place_mm": np.round(self.place, 3).tolist(),
            "turn": np.asarray(self.turn).tolist(),
            "reprojection_px": self.reprojection,
            "blur_px": self.blur,
            "cards": list(self.cards),
            "left_out": list(self.left_out),
        }


@dataclass(frozen=True, slots=True)
class Straightened:
    """The picture seen from straight above, to draw on.

    Attributes
    ----------
    data, media : the file's bytes and its type
    size : width and height [px]
    pitch : size of a pixel [mm]
    origin : where the middle of the lower left pixel is, in the outlines' coordinates [mm]
    """

    data: bytes
    media: str
    size: tuple[int, int]
    pitch: float
    origin: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Captured:
    """What one reading gave. With a ``stop`` among the findings the outlines must not be used.

    Attributes
    ----------
    outer, holes : the loops [mm]; outer is None if nothing was found
    findings : what is wrong or worth knowing
    uncertainty : how true it is, None where nothing was found
    camera : the camera of the (first) photo, None for points and drawings
    straightened : the picture from above, None for points
    source : photo, scan, points, by hand
    thickness : of the template [mm], where it matters
    values : further figures of the reading [-]
    marks : centres to drill that are not cut [mm]
    """

    outer: Outline | None
    holes: tuple[Outline, ...] = ()
    findings: tuple[Finding, ...] = ()
    uncertainty: Uncertainty | None = None
    camera: CameraSolution | None = None
    straightened: Straightened | None = None
    source: str = "photo"
    thickness: float = 0.0
    values: dict[str, float] = field(default_factory=dict, hash=False, compare=False)
    marks: tuple[tuple[float, float], ...] = ()

    @property
    def verdict(self) -> Verdict:
        """Whether the outlines may be used: go, look or stop."""
        return verdict(self.findings)

    def loops(self) -> tuple[Outline, ...]:
        """Return the outer loop, then the holes; empty if nothing was found [mm]."""
        return () if self.outer is None else (self.outer, *self.holes)

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values [mm]; the straightened picture's bytes are left out."""
        picture = self.straightened
        return {
            "source": self.source,
            "verdict": self.verdict,
            "outer": None if self.outer is None else self.outer.as_dict(),
            "holes": [h.as_dict() for h in self.holes],
            "findings": [f.as_dict() for f in self.findings],
            "uncertainty": None if self.uncertainty is None else self.uncertainty.as_dict(),
            "camera": None if self.camera is None else self.camera.as_dict(),
            "thickness_mm": self.thickness,
            "straightened": None
            if picture is None
            else {
                "media": picture.media,
                "size_px": list(picture.size),
                "pitch_mm": picture.pitch,
                "origin_mm": list(picture.origin),
            },
            "values": self.values,
            "marks_mm": [list(m) for m in self.marks],
        }
