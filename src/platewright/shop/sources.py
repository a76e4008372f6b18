"""Where a part's shape came from, as the job document keeps it: photo, scan, drawing, points, family, picture, by hand.

What all entries of the document share stands here too: quantities and places as a person said them.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

from platewright.documents import shown, too_deep

__all__ = ["STRICT", "Circle", "DrawingSource", "DrawnSource", "FamilySource", "Fitting", "Free", "LeftOut", "Moved", "PartSource", "PhotoSource", "PictureSource", "Place", "PointsSource", "Polygon", "Rectangle", "Said", "ScanSource", "Shown", "Source", "Spot", "StrokeEntry", "Tap"]  # fmt: skip

Spot = tuple[float, float]
Shown = AfterValidator(shown)
"""For names: what cannot be shown is left out as it comes in."""


def _ending(value: dict[str, Any]) -> dict[str, Any]:
    if too_deep(value):
        raise PydanticCustomError("nested", "It is nested too deeply")
    return value


Free = Annotated[dict[str, Any], AfterValidator(_ending)]
"""Values that a reader of their own judges later; here only that they end."""
Said = Annotated[str, Field(max_length=80)]
"""A quantity as the shop says it: "6 mm", "3/16 in", "7 ga"."""


STRICT = ConfigDict(extra="forbid", allow_inf_nan=False)
"""An entry holds what it names and nothing else."""


class _Entry(BaseModel):
    model_config = STRICT


class Rectangle(_Entry):
    """An upright rectangle by its lower left, as said."""

    kind: Literal["rectangle"] = "rectangle"
    x: Said = "0 mm"
    y: Said = "0 mm"
    width: Said = "40 mm"
    height: Said = "40 mm"


class Circle(_Entry):
    """A circle by its middle, as said."""

    kind: Literal["circle"] = "circle"
    x: Said = "0 mm"
    y: Said = "0 mm"
    diameter: Said = "60 mm"


class Polygon(_Entry):
    """A closed outline drawn by hand [mm]: rows of x, y, bulge."""

    kind: Literal["polygon"] = "polygon"
    rows_mm: Annotated[list[tuple[float, float, float]], Field(min_length=2, max_length=5000)]


Place = Annotated[Rectangle | Circle | Polygon, Field(discriminator="kind")]


class Moved(_Entry):
    """A corner of a found outline moved by hand from one place to another [mm]."""

    at_mm: Spot
    to_mm: Spot


class LeftOut(_Entry):
    """A smudge: what was found within a radius of a place is left out [mm]."""

    at_mm: Spot
    radius_mm: Annotated[float, Field(gt=0, le=500)]


class Fitting(_Entry):
    """How raw outlines become lines and arcs: tolerance as said (empty: from the measured noise), relations refused."""

    tolerance: Said = ""
    refuse: Annotated[list[Said], Field(max_length=2000)] = []
    relations: bool = True
    round_to: Said = "0.5 mm"


class PhotoSource(_Entry):
    """Photos with marker cards, by one camera: what they show and what the person says about them.

    ``bars`` is what the cards' check bars measure across and up, as said: both, or neither.
    """

    kind: Literal["photo"] = "photo"
    files: Annotated[list[str], Field(min_length=1, max_length=8)]
    name: str = ""
    template: Said = "3 mm"
    bars: tuple[Said, Said] = ("", "")
    cards_on: Literal["offcuts", "bench"] = "offcuts"
    click: Spot | None = None
    painted: Annotated[list[Spot], Field(max_length=5000)] = []
    holes: Annotated[int, Field(ge=0, le=200)] | None = None
    left_out: Annotated[list[LeftOut], Field(max_length=1000)] = []
    moved: Annotated[list[Moved], Field(max_length=1000)] = []
    fitting: Fitting = Fitting()
    anyway: bool = False


class ScanSource(_Entry):
    """A flatbed scan: resolution as said (None: the file's own, or a card's), and the check bars of a card on the glass."""

    kind: Literal["scan"] = "scan"
    file: str
    name: str = ""
    dpi: Annotated[float, Field(ge=40, le=9600)] | None = None
    bars: tuple[Said, Said] = ("", "")
    left_out: Annotated[list[LeftOut], Field(max_length=1000)] = []
    moved: Annotated[list[Moved], Field(max_length=1000)] = []
    fitting: Fitting = Fitting()


class PointsSource(_Entry):
    """A file of traced or typed points."""

    kind: Literal["points"] = "points"
    file: str
    name: str = ""
    unit: Literal["", "mm", "in"] = ""
    left_out: Annotated[list[LeftOut], Field(max_length=1000)] = []
    fitting: Fitting = Fitting()


class DrawingSource(_Entry):
    """A drawing file (DXF or SVG); the unit is asked for when the file does not say.

    ``gap`` is how far loose ends may be apart to be joined, as said; ``open_lines`` and ``texts`` what becomes of lines
    that close to no shape, and of text (empty: on paper only, and told); ``text_height`` empty burns text as high as drawn.
    """

    kind: Literal["drawing"] = "drawing"
    file: str
    name: str = ""
    unit: Literal["", "mm", "in"] = ""
    gap: Said = ""
    open_lines: Literal["tell", "leave"] = "tell"
    texts: Literal["", "paper", "mark", "leave"] = ""
    text_height: Said = ""


class FamilySource(_Entry):
    """A family of shapes and its dimensions as said."""

    kind: Literal["family"] = "family"
    family: str
    values: Annotated[dict[Said, Annotated[str, Field(max_length=200)]], Field(max_length=100)] = {}


class StrokeEntry(_Entry):
    """A stroke that draws metal into a picture or out of it: points and width in parts of the picture's width [-], y down."""

    points: Annotated[list[Spot], Field(min_length=1, max_length=2000)]
    width: Annotated[float, Field(gt=0, le=1)] = 0.02
    metal: bool = True


class PictureSource(_Entry):
    """A picture made into a silhouette: how wide, which level (None: found), how smooth, how fine, thin places and strokes."""

    kind: Literal["picture"] = "picture"
    file: str
    name: str = ""
    width: Said = "300 mm"
    level: Annotated[float, Field(ge=0, le=100)] | None = None
    invert: bool = False
    smooth: Said = "0.3 mm"
    smallest: Said = "3 mm"
    fill: bool = False
    keep: Literal["largest", "joined"] = "largest"
    thin: Literal["thin places", "leave"] = "thin places"
    sheet: Said = "6 mm"
    kerf: Said = "1.5 mm"
    strokes: Annotated[list[StrokeEntry], Field(max_length=200)] = []


class Tap(_Entry):
    """A corner tapped by hand; the edge to the next one is straight, or an arc through a third place [mm]."""

    at_mm: Spot
    through_mm: Spot | None = None


Taps = Annotated[list[Tap], Field(min_length=2, max_length=5000)]


class OverEntry(_Entry):
    """A straightened photo that was drawn over: its file (empty: none), and where it lies in picture coordinates [mm]."""

    file: Annotated[str, Field(max_length=64)] = ""
    x: float = 0.0
    y: float = 0.0
    width: float = 0.0
    height: float = 0.0


class DrawnSource(_Entry):
    """Lines and arcs drawn by hand [mm], perhaps over a straightened photo."""

    kind: Literal["drawn"] = "drawn"
    over: OverEntry = OverEntry()
    outer: Taps
    holes: Annotated[list[Taps], Field(max_length=500)] = []


class PartSource(_Entry):
    """An earlier part, kept whole: its part document."""

    kind: Literal["part"] = "part"
    part: Free
    came_from: str = ""


Source = Annotated[
    PhotoSource
    | ScanSource
    | PictureSource
    | PointsSource
    | DrawingSource
    | FamilySource
    | DrawnSource
    | PartSource,
    Field(discriminator="kind"),
]
