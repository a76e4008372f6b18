"""What a step's result holds: its sentence, numbers, findings, files and picture, and each station's data, as types.

The page's TypeScript of them is made from here, so that a field renamed here is a type error there.
"""

from __future__ import annotations

from typing import Literal, NotRequired

from typing_extensions import TypedDict

from platewright.errors import FailureData
from platewright.findings import Verdict
from platewright.shop.scene import ImageData, SceneData, SpotData

__all__ = [
    "STATION_DATA",
    "BurnData",
    "Document",
    "FileData",
    "LayoutData",
    "NumberData",
    "PartData",
    "PatternData",
    "PhotoOfPlate",
    "PlacedData",
    "PlateData",
    "PlateOutline",
    "PriceData",
    "ProgramData",
    "ProofData",
    "RescueData",
    "StepResult",
    "ZeroData",
]  # fmt: skip

Spot = tuple[float, float]
Rows = list[tuple[float, float, float]]
Document = dict[str, object]
"""A document of a stage as its own reader and writer have it, such as ``Part.from_dict``; here it only passes through."""


class NumberData(TypedDict):
    """One number to show, with its unit in the text."""

    label: str
    value: str


class FileData(TypedDict):
    """A kept file a step made; its size in [bytes]."""

    role: str
    label: str
    sha256: str
    name: str
    media: str
    size: int


class StepResult(TypedDict):
    """A step's result as it is kept."""

    state: Literal["done", "failed"]
    summary: str
    numbers: list[NumberData]
    findings: list[SpotData]
    files: list[FileData]
    error: FailureData | None
    verdict: NotRequired[Verdict]
    data: NotRequired[object]
    scene: NotRequired[SceneData | None]


class RelationData(TypedDict):
    """A relation taken as meant: what it is, in words, and the edges it is about."""

    id: str
    kind: str
    text: str
    edges: list[tuple[int, int]]
    value_mm: float | None
    change_mm: float


class PatternData(TypedDict, total=False):
    """A pattern: its part document; what was taken as meant, a picture's level, a drawing's text."""

    part: Document
    relations: list[RelationData]
    dimensions: list[Document]
    level: float
    texts: list[str]


class ZeroData(TypedDict):
    """A place from which one may measure [mm]."""

    name: str
    at_mm: Spot


class PartData(TypedDict):
    """A finished part: its document, what was done to it, and from where one may measure."""

    part: Document
    steps: list[str]
    zeros: list[ZeroData]


class PlateOutline(TypedDict):
    """What a plate's photo shows [mm]."""

    outline_mm: Rows
    holes_mm: list[Rows]
    said: str


class PhotoOfPlate(PlateOutline):
    """What a plate's photo shows, as it is kept: also the straightened picture itself."""

    image: ImageData | None


class PlateData(TypedDict):
    """A plate: its document, and what its photo shows if it is drawn from one."""

    plate: Document
    seen: NotRequired[PlateOutline]


class PlacedData(TypedDict):
    """A copy of a part on a plate of the layout, from 1, as a job's entry places it by hand [mm, rad]."""

    part: str
    plate: int
    copy_number: int
    x_mm: float
    y_mm: float
    angle_rad: float
    mirrored: bool
    locked: bool


class LayoutData(TypedDict):
    """A layout on one plate: its document, copies that fit on no plate, ids of its parts, corners of the plate [mm].

    ``more`` holds the documents of the other plates, with the first plate's step alone; ``on`` says which plate entry of the
    job each plate of the layout is; ``placements`` are the copies on all of them.
    """

    layout: Document
    more: list[Document]
    missing: int
    parts: list[str]
    corners: list[Spot]
    on: list[int]
    placements: list[PlacedData]


class CutData(TypedDict):
    """One cut: its number, which contour of which copy, why it is as it is, where it starts, what it frees."""

    number: str
    kind: str
    label: str
    contour: int
    placement: int
    part: str
    copy: int
    mirrored: bool
    why: list[str]
    pierce_mm: list[float]
    spot: Spot
    speed_mm_min: int
    frees: list[int]


class TrackData(TypedDict):
    """The torch's way in time [s, mm], for the page to play."""

    t_s: list[float]
    x: list[float]
    y: list[float]
    cut: list[int]
    ends_s: list[float]
    total_s: float


class BurnData(TypedDict):
    """A burn plan as the page plays it."""

    cuts: list[CutData]
    track: TrackData
    starting_point: bool
    why: NotRequired[list[str]]


class ProgramData(TypedDict):
    """A program: its file, text's head and check code."""

    name: str
    dialect: str
    cut_lines: list[int]
    program_file: str
    sha256: str
    head: list[str]
    title: str
    lines: int


class PieceData(TypedDict):
    """A piece that comes loose: how far its worst edge is off [mm]."""

    kind: str
    name: str
    placement: int | None
    order: int | None
    loose_after: int | None
    worst_mm: float | None


Station = Literal["pattern", "part", "plate", "layout", "burn", "program", "proof", "paper", "price"]


class OpenData(TypedDict):
    """A finding of an earlier station that nobody has settled."""

    station: Station
    part: str
    severity: str
    text: str


class ProofData(TypedDict):
    """A proof: pieces, what it covers, what is still open, what it rests on."""

    pieces: list[PieceData]
    sha256: str
    covers: str
    open: list[OpenData]
    rests_on: list[str]


class RescueData(TypedDict):
    """A program to go on with: its file's name and check code, what its proof covers, the piece that is cut again."""

    name: str
    sha256: str
    covers: str
    piece: int | None


class LineData(TypedDict):
    """A line of a quote; money as text."""

    text: str
    quantity: int
    each: str


class BreakData(TypedDict):
    """The price of a quantity; money as text."""

    sets: int
    price: str
    each: str
    cost: str


class PriceData(TypedDict):
    """A price: cost, lines, other quantities, what it rests on."""

    cost: Document
    currency: str
    lines: list[LineData]
    quantities: list[BreakData]
    rests_on: list[str]


STATION_DATA: dict[str, type] = {
    "pattern": PatternData, "part": PartData, "plate": PlateData, "layout": LayoutData, "burn": BurnData,
    "program": ProgramData, "proof": ProofData, "price": PriceData,
}  # fmt: skip
"""The data of each station that has some."""
