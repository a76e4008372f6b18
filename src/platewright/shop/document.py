"""The job document: everything a person decided, as they said it, and nothing computed.

Lengths a person types stay as typed ("3/16 in"); what a pointer made is in millimetres with the unit in
the name. Results are never stored in it: each step finds its result under the hash of its inputs (see
``pipeline``), so undo shows old results at once and nothing can be out of date.
"""

from __future__ import annotations

import secrets
from typing import Annotated, Literal

from pydantic import BaseModel, Field, ValidationError, model_validator

from platewright.errors import InputError
from platewright.shop.sources import STRICT, Free, Place, Said, Shown, Source, Spot

__all__ = [
    "BurnEntry", "JobDocument", "KeepOutEntry", "LayoutEntry", "OperationEntry", "PaperEntry", "PartEntry",
    "PlacementEntry", "PlateEntry", "PriceEntry", "ProgramEntry", "WrongEntry", "read_job",
]  # fmt: skip

FORMAT: Literal["platewright-job-1"] = "platewright-job-1"
MOST_PLATES = 40
PlateNumber = Annotated[int, Field(ge=1, le=MOST_PLATES)]
"""A plate of a layout that goes over several, counted from 1."""


class _Entry(BaseModel):
    model_config = STRICT


class OperationEntry(_Entry):
    """One operation on a part: its name and its inputs, as said or in the house unit [mm, rad]."""

    op: str
    inputs: Free = {}
    off: bool = False

    @model_validator(mode="after")
    def _holes_from_one(self) -> OperationEntry:
        """Turn holes counted from 0, as jobs did before, into the numbers the page shows."""
        typed = self.inputs.get("holes")
        if self.op == "remove_holes" and "numbers" not in self.inputs and typed is not None:
            holes = typed.replace(",", " ").split() if isinstance(typed, str) else typed
            if isinstance(holes, list) and all(str(h).isdecimal() for h in holes):
                rest = {k: v for k, v in self.inputs.items() if k != "holes"}
                self.inputs = rest | {"numbers": ", ".join(str(int(h) + 1) for h in holes)}
        return self


def _fresh() -> str:
    return secrets.token_hex(4)


class PartEntry(_Entry):
    """A part of the job: where it came from, what was done to it, and how many are wanted.

    Parts with a smaller ``first`` are placed first; a filler is only laid where room is left; ``worth`` is what one is
    worth where money decides.
    """

    id: str = Field(default_factory=_fresh)
    name: Annotated[str, Field(min_length=1, max_length=60), Shown]
    thickness: Said = "6 mm"
    grade: str = "mild steel"
    quantity: Annotated[int, Field(ge=1, le=5000)] = 1
    pairs: bool = False
    first: Annotated[int, Field(ge=0, le=99)] = 0
    filler: bool = False
    worth: Said = ""
    source: Source
    operations: Annotated[list[OperationEntry], Field(max_length=500)] = []


class PlateEntry(_Entry):
    """What it is cut from: size or outline, old holes, grain as said, what became of it so far, its photo's file.

    ``stock`` is its id on the rack, ``held_for`` the job or person it is reserved for. ``from_photo`` says that the outline
    is drawn from the photo, and what the marker cards on it lie on: the bench, or offcuts as thick as the plate.
    ``owned`` says that somebody looked: a plate like the one every job begins with is there.
    """

    name: Annotated[str, Field(min_length=1, max_length=60), Shown] = "sheet"
    kind: Literal["sheet", "drop"] = "sheet"
    size: Said = "1200 x 600 mm"
    outline_mm: Annotated[list[tuple[float, float, float]], Field(max_length=5000)] = []
    holes: Annotated[list[Place], Field(max_length=500)] = []
    thickness: Said = "6 mm"
    grade: str = "mild steel"
    cost: Said = ""
    rack: Annotated[str, Field(max_length=40), Shown] = ""
    stock: str = ""
    grain: Said = ""
    history: Annotated[list[Annotated[str, Field(max_length=200)]], Field(max_length=100)] = []
    photo: Annotated[str, Field(max_length=64)] = ""
    from_photo: Literal["", "bench", "offcuts"] = ""
    held_for: Said = ""
    owned: bool = False


class KeepOutEntry(_Entry):
    """A magnet, clamp or bad place on the plate."""

    name: Annotated[str, Field(max_length=40), Shown] = "magnet"
    place: Place
    stands: Said = "50 mm"


class PlacementEntry(_Entry):
    """One copy placed by hand: which part, which copy, on which plate of the layout (from 1), where [mm, rad]."""

    part: str
    plate: PlateNumber = 1
    copy_number: int = 1
    x_mm: float
    y_mm: float
    angle_rad: float = 0.0
    mirrored: bool = False
    locked: bool = True


class Skewed(_Entry):
    """Two or more places on the plate's drawing, and where they were touched on the table [mm]."""

    drawn_mm: Annotated[list[Spot], Field(max_length=100)] = []
    touched_mm: Annotated[list[Spot], Field(max_length=100)] = []


class OwnEntry(_Entry):
    """How one part is laid otherwise than the rest: its turns, whether copies may be turned face down, how far it keeps from others."""

    part: str
    turns: Literal["", "free", "quarter", "grain"] = ""
    face_down: bool = False
    clear: Said = ""


MOST_SECONDS = 600.0
"""Longest a job's layout may be searched for [s]."""


class LayoutEntry(_Entry):
    """How to lay: clearances as said (empty: room for a full lead-in), search time as said or in [s], seed, turns, what counts when
    not everything fits, parts laid in a way of their own, and copies placed by hand. A choice sent as empty text is as if nothing
    were said.

    ``repeat_sheets``: full sheets are taken as often as needed. ``common``: like parts share a cut. ``cut_off``: a straight
    line beside the parts is kept free. ``heat``, ``slats`` and ``first_slat`` say how parts should lie, ``leeway`` what may be given up for it. ``go_on`` is the key of the layout to go on from, for ``longer`` [s]. ``on`` says for copies placed by
    hand which plate entry each plate of the layout is (0: the job's plate, 1: the first of the others); ``skews`` are those
    of plates after the first, by their number.
    """

    between: Said = ""
    edge: Said = ""
    keepout: Said = "10 mm"
    seconds: Annotated[float, Field(ge=0, le=MOST_SECONDS)] | Said = 2.0
    steps: Annotated[int, Field(ge=0, le=1_000_000)] | None = None
    seed: int = 1
    turns: Literal["free", "quarter", "grain"] = "free"
    goal: Literal["metal", "money", "count", "kits"] = "metal"
    repeat_sheets: bool = False
    common: bool = False
    cut_off: bool = False
    heat: bool = False
    slats: Said = ""
    slats_run: Literal["y", "x"] = "y"
    first_slat: Said = ""
    leeway: Said = ""
    go_on: Annotated[str, Field(max_length=64)] = ""
    longer: Annotated[float, Field(ge=0, le=3600)] = 0.0
    own: Annotated[list[OwnEntry], Field(max_length=500)] = []
    placements: Annotated[list[PlacementEntry], Field(max_length=5000)] = []
    by_hand: bool = False
    on: Annotated[list[Annotated[int, Field(ge=0, le=MOST_PLATES)]], Field(max_length=MOST_PLATES)] = []
    skew: Skewed = Skewed()
    skews: Annotated[dict[Annotated[str, Field(max_length=2)], Skewed], Field(max_length=MOST_PLATES)] = {}

    def skew_on(self, plate: int) -> Skewed:
        """Return how a plate of the layout, from 1, was touched on the table [mm]."""
        return self.skew if plate == 1 else self.skews.get(str(plate), Skewed())

    @model_validator(mode="before")
    @classmethod
    def _without_defaults(cls, values: object) -> object:
        if not isinstance(values, dict):
            return values
        plain = (
            "seconds",
            "steps",
            "seed",
            "turns",
            "goal",
            "keepout",
            "repeat_sheets",
            "common",
            "cut_off",
            "heat",
            "slats_run",
        )
        return {k: v for k, v in values.items() if k not in plain or v != ""}


class LeadEntry(_Entry):
    """One cut decided by hand: which, where it should pierce or enter [mm], and other choices as said."""

    part: str
    copy_number: int
    mirrored: bool = False
    contour: int
    at_mm: Spot | None = None
    options: Free = {}


class BurnEntry(_Entry):
    """Table, chart and what is asked of the planner."""

    table: str = "small gantry"
    chart: str = ""
    amperage: Said = ""
    leads: Annotated[list[LeadEntry], Field(max_length=20_000)] = []
    options: Free = {}


class ProgramEntry(_Entry):
    """Dialect (empty: the table's own) and file name (empty: from the job's name)."""

    dialect: str = ""
    name: Annotated[str, Field(max_length=60), Shown] = ""


class PaperEntry(_Entry):
    """Paper size and the unit printed."""

    paper: str = "letter"
    unit: Literal["mm", "in"] = "mm"


class PriceEntry(_Entry):
    """Rates other than the shop's own, each as said, and for how many sets to price besides: "2, 5, 10"."""

    rates: Annotated[dict[Said, Said], Field(max_length=60)] = {}
    quantities: Said = ""


class WrongEntry(_Entry):
    """What went wrong at the table: with which program (its hash), and how it goes on.

    ``on``: the piece of a cut is left as scrap, and the cuts after it go on as planned. ``start``: again from a cut, by what it is called; ``at_mm`` is where its arc went out, None if it never got through.
    ``piece``: one piece of the layout, counted from 0, is cut again on what is left of the plate. ``plate`` is the plate of
    the layout it happened on, from 1.
    """

    plate: PlateNumber = 1
    program: Annotated[str, Field(max_length=64)]
    how: Literal["start", "on", "piece"]
    cut: Annotated[str, Field(max_length=12)] = ""
    at_mm: Spot | None = None
    piece: Annotated[int, Field(ge=-1, le=5000)] = -1


class JobDocument(_Entry):
    """One job from pattern to price."""

    format: Literal["platewright-job-1"] = FORMAT
    name: Annotated[str, Field(min_length=1, max_length=80), Shown] = "New job"
    customer: Annotated[str, Field(max_length=120), Shown] = ""
    note: Annotated[str, Field(max_length=2000)] = ""
    parts: Annotated[list[PartEntry], Field(max_length=100)] = []
    plate: PlateEntry = PlateEntry()
    more_plates: Annotated[list[PlateEntry], Field(max_length=MOST_PLATES - 1)] = []
    """Other plates the parts may go over to; of all of them those are taken that cost least."""
    keepouts: Annotated[list[KeepOutEntry], Field(max_length=100)] = []
    layout: LayoutEntry = LayoutEntry()
    burn: BurnEntry = BurnEntry()
    program: ProgramEntry = ProgramEntry()
    paper: PaperEntry = PaperEntry()
    price: PriceEntry = PriceEntry()
    wrong: WrongEntry | None = None
    good: Annotated[
        dict[Annotated[str, Field(max_length=40)], Annotated[int, Field(ge=0, le=10_000)]],
        Field(max_length=100),
    ] = {}
    """How many of each part came out good, once it is cut: by the part's id, on plates after the first by "id:2", "id:3"."""

    def plates(self) -> list[PlateEntry]:
        """Return every plate it may be cut from."""
        return [self.plate, *self.more_plates]


def read_job(document: object) -> JobDocument:
    """Read a job document.

    Raises
    ------
    InputError
        Naming the first field that does not fit and what it may be.
    """
    try:
        return JobDocument.model_validate(document)
    except ValidationError as bad:
        first = bad.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        raise InputError(f"{first['msg']}.", where=where or "job", do="Put it right and save again.") from bad
