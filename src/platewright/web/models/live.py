"""What goes over the API while something is typed or moved: forms, families shown live, what was understood."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from platewright.shop.forms.fields import Form
from platewright.shop.results import NumberData
from platewright.shop.scene import SceneData
from platewright.web.models.jobs import Count, FindingView

__all__ = [
    "BurnFormView", "LayoutFormView", "LiveAsk", "LivePart", "MoveAnswer", "MoveAsk",
    "PieceView", "SayAsk",
]  # fmt: skip


class BurnFormView(BaseModel):
    """What may be chosen about a burn: for the whole plan in groups, and for one cut; ``default`` says what is done else."""

    plan: list[Form]
    cut: Form


class LayoutFormView(BaseModel):
    """What may be chosen about a layout: for all parts in groups, and for one part; ``default`` says what is done else."""

    plan: list[Form]
    own: Form


class PieceView(BaseModel):
    """One of the parts that a family's dimensions stand for: its name, and its dimensions as said."""

    name: str
    values: dict[str, str]


class LivePart(BaseModel):
    """A family's shape as its dimensions stand, what was found, and the parts it stands for if they are several."""

    scene: SceneData
    numbers: list[NumberData]
    notes: list[str]
    findings: list[FindingView] = []
    pieces: list[PieceView] = []
    template: bool = False


class LiveAsk(BaseModel):
    """Dimensions as said."""

    values: dict[Annotated[str, Field(max_length=60)], Annotated[str, Field(max_length=200)]] = Field(
        default={}, max_length=100
    )


class MoveAsk(BaseModel):
    """A placed copy in the hand: which one, on which plate of the layout, and where it would lie."""

    index: Count
    plate: int = Field(default=1, ge=1, le=99)
    x_mm: float
    y_mm: float
    angle_rad: float
    mirrored: bool


class MoveAnswer(BaseModel):
    """Whether it may lie there, and the nearest place where it may [mm]; both None if there is none."""

    legal: bool
    x_mm: float | None
    y_mm: float | None


class SayAsk(BaseModel):
    """A quantity as said, what kind it must be, and the unit to say it in (empty: the shop's)."""

    text: str = Field(max_length=200)
    kind: Literal[
        "length", "angle", "share", "time", "sheet", "place", "hole", "count", "speed", "current"
    ] = "length"
    metal: str = Field(default="", max_length=60)
    unit: Literal["", "mm", "in"] = ""
