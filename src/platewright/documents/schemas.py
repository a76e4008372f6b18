"""The shape of each document as it comes in; what the values mean is checked where they are used."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

__all__ = ["OF"]

MOST_ROWS = 400_000
"""Most rows of one contour [-]; the longest traced outline has fewer."""

Number = Annotated[float, Field(strict=True, ge=-1e9, le=1e9)]
Whole = Annotated[int, Field(strict=True, ge=-(2**53), le=2**53)]
Flag = Annotated[bool, Field(strict=True)]
Text = Annotated[str, Field(strict=True, max_length=20_000)]
Spot = Annotated[list[Number], Field(min_length=2, max_length=2)]
Row = Annotated[list[Number], Field(min_length=3, max_length=3)]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="ignore", allow_inf_nan=False)


class Contour(_Shape):
    """Rows of x [mm], y [mm], bulge [-]."""

    rows_mm_mm_bulge: Annotated[list[Row], Field(min_length=2, max_length=MOST_ROWS)]
    closed: Flag = True


class Profile(_Shape):
    """An outline and its holes."""

    outer: Contour
    holes: Annotated[list[Contour], Field(max_length=100_000)] = []


class Mark(_Shape):
    """A line or point that is not cut through."""

    kind: Literal["etch", "centre", "print"]
    contour: Contour | None = None
    at_mm: Spot | None = None
    text: Text = ""


class Step(_Shape):
    """One recorded operation."""

    op: Text
    inputs: dict[str, Any] = {}


class Part(_Shape):
    """A part document."""

    format: Literal["platewright-part-1"]
    name: Text
    thickness_mm: Number
    grade: Text
    hand: Literal["drawn", "other"] = "drawn"
    profile: Profile
    marks: Annotated[list[Mark], Field(max_length=100_000)] = []
    notes: Annotated[list[Text], Field(max_length=10_000)] = []
    steps: Annotated[list[Step], Field(max_length=10_000)] = []
    moved_max_mm: Number | None = None
    moved_rms_mm: Number | None = None


class Plate(_Shape):
    """A plate document."""

    format: Literal["platewright-plate-1"]
    name: Text
    profile: Profile
    thickness_mm: Number
    grade: Text
    kind: Literal["sheet", "drop"] = "sheet"
    grain_rad: Number | None = None
    cost: Annotated[str, Field(strict=True, pattern=r"^[0-9]{1,12}(\.[0-9]{0,30})?$")] | Whole | None = None
    rack: Text = ""
    history: Annotated[list[Text], Field(max_length=10_000)] = []
    photo: Text = ""
    held_for: Text = ""


class Pose(_Shape):
    """Where something lies."""

    x_mm: Number
    y_mm: Number
    angle_rad: Number
    mirrored: Flag


class Placement(_Shape):
    """One copy of a part."""

    part: Annotated[Whole, Field(ge=0)]
    pose: Pose
    copy_: Whole = Field(alias="copy")
    locked: Flag


class KeepOut(_Shape):
    """A place that is not cut."""

    name: Text
    contour: Contour
    height_mm: Number


class Clearance(_Shape):
    """Free distances."""

    part_mm: Number
    edge_mm: Number
    keepout_mm: Number
    own_mm: Annotated[list[Number], Field(max_length=5_000)] = []


class CommonLine(_Shape):
    """Two placements that share a cut, a kerf apart."""

    one: Annotated[Whole, Field(ge=0)]
    other: Annotated[Whole, Field(ge=0)]
    gap_mm: Number


class Layout(_Shape):
    """A layout document."""

    format: Literal["platewright-layout-1"]
    plate: Plate
    parts: Annotated[list[Part], Field(max_length=5_000)]
    placements: Annotated[list[Placement], Field(max_length=20_000)]
    keepouts: Annotated[list[KeepOut], Field(max_length=1_000)]
    clearance: Clearance
    seat: Pose | None = None
    burn: dict[str, Any] = {}
    cut_off_mm: tuple[tuple[Number, Number], tuple[Number, Number]] | None = None
    common: Annotated[list[CommonLine], Field(max_length=20_000)] = []


class Burn(BaseModel):
    """What was chosen about a burn; its keys are checked by the planner."""

    model_config = ConfigDict(extra="allow")


class Hole(_Shape):
    """A round hole of traced points."""

    x: Number
    y: Number
    diameter: Number = 0.0


class Turned(_Shape):
    """A point by name."""

    x: Number
    y: Number


Loop = Annotated[list[Turned | Annotated[list[Number], Field(min_length=2)]], Field(max_length=400_000)]


class Points(_Shape):
    """Traced points."""

    unit: Text | None = ""
    habit: Literal["auto", "clicked", "dense"] = "auto"
    loops: Annotated[list[Loop], Field(max_length=100_000)] = []
    points: Loop = []
    holes: (
        Annotated[list[Hole | Annotated[list[Number], Field(min_length=2)]], Field(max_length=100_000)] | None
    ) = []


OF: dict[str, type[BaseModel]] = {
    "part": Part,
    "plate": Plate,
    "layout": Layout,
    "burn": Burn,
    "points": Points,
}
