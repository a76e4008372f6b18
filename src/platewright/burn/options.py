"""What the shop may choose about a burn plan; every default is the automatic choice."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from typing import Any, Literal

from platewright.burn.declared import CUT, plan_options
from platewright.declared import Option, checked
from platewright.errors import InputError

__all__ = ["BurnOptions", "CutChoice", "LeadKind", "TabChoice"]

LeadKind = Literal["arc", "straight", "centre", "edge"]
AMPERAGE = Option(name="amperage", label="amperage", kind="current", low=5, high=1000)
TABS = (
    Option(name="count", label="how many", kind="count", low=0, high=50),
    Option(name="width", label="how wide", kind="length", low=0, high=50),
)


@dataclass(frozen=True, slots=True)
class TabChoice:
    """Uncut bridges on a contour: how many [-] and how wide [mm], or their places by hand.

    Attributes
    ----------
    count : [-]; 0 for none
    width : of metal left, at the kerf's edge [mm]; 0 takes it from the thickness
    at : places on the part, in plate coordinates [mm]; empty to place them automatically
    """

    count: int = 0
    width: float = 0.0
    at: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CutChoice:
    """What the shop decides by hand for one contour; None leaves it to the planner.

    Attributes
    ----------
    placement, contour : which contour [-]
    start : where to start, in plate coordinates; the nearest point of the cut is taken [mm]
    lead : kind of lead-in
    lead_length : [mm]
    reverse : cut the other way round than the swirl asks for
    overburn : past the start, negative stops short [mm]
    speed_factor : feed over cut speed [-]
    rank : cuts with lower rank burn first, where precedence allows [-]
    skip : do not cut it
    tabs : uncut bridges
    """

    placement: int
    contour: int
    start: tuple[float, float] | None = None
    lead: LeadKind | None = None
    lead_length: float | None = None
    reverse: bool = False
    overburn: float | None = None
    speed_factor: float | None = None
    rank: int | None = None
    skip: bool = False
    tabs: TabChoice | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BurnOptions:
    """Choices for the whole plan.

    Attributes
    ----------
    amperage : [A]; None takes the chart's best for the thickness
    tip : what the tip fitted is rated for [A]; None takes it to be made for the amperage
    process : None takes the chart's first for the grade
    lead : kind of lead-in; None for the best that fits
    lead_length : [mm]; None from the chart
    overburn : on outer contours past the start [mm]; None for one kerf
    hole_overburn : on holes [mm]; negative stops short
    hole_coast : how far the torch runs on round a closed hole with its arc out [mm]; 0 for not at all, None for 2 to 6 mm in small holes
    small_hole : holes up to this diameter are cut slowly with height control frozen [mm]; None: four thicknesses, at least 12 mm
    hole_speed_factor : [-]; None from the chart
    splash : free distance a pierce needs [mm]; None from thickness and kerf
    start : where a cut should start by preference
    good_edges : (placement, contour, edge) [-] that must carry no start
    cut_off : burn the layout's cut-off line, after everything else
    quality : ISO 9013 range for u the shop needs, 1 to 5 [-]
    marks : whether etch lines and centre points are burnt as marks
    dimple : strike centres with a very short arc where no tool marks them
    dimple_time : how long that arc burns [s]; None from the pierce delay
    dimple_amperage : the program stops for this to be set, and for the cuts' amperage after it [A]; None to strike at the cuts' own
    mark_below : round holes narrower than this are marked for drilling, not cut [mm]; 0 for none
    home : where the torch rests [mm]
    tab_below : parts whose longest side is below this get tabs [mm]; 0 for none
    tabs : the tabs they get
    common_line : cut straight edges shared by two parts once
    chain : run from one part to its neighbour without a new pierce
    corner_loops : loop outside sharp corners in scrap
    round_inside : round the part's inside corners to this radius [mm]; half a kerf and less leaves them as the kerf does
    edge_start : start at the plate's edge where the plate is too thick to pierce
    edge_delay : how long the torch stands lit before it moves where it need not pierce, at an edge or in an open kerf [s]
    skeleton : after all parts cut the rest of the plate across into pieces no longer than this [mm]; 0 leaves it whole
    spread_heat : least distance between one cut and the next [mm]; 0 for off, None for 30 mm on plate up to 1.6 mm
    route : lead travel round pieces that may have tipped
    slats : distance between the table's slats [mm]
    touch_every : where the program touches off, do so again only this far from the last touch-off [mm]; 0 for each pierce
    post_flow : wait after the torch is out before moving on, so that its air cools the tip [s]; 0 to move on at once
    pause_duty : wait where the arc would go over the power source's duty cycle
    pause_air : wait where the compressor's tank would not hold
    pause_tip : stop where tip and electrode are used up
    worn_delay : how much longer a pierce dwells when tip and electrode are used up, growing to that from a fresh set [-]
    pause_every : stop for a look (water, slag) once so much of the job has passed [s]; 0 for none
    cuts : choices for single contours
    seed : of the order search [-]
    effort : seconds of order search [s]
    """

    amperage: float | None = None
    tip: float | None = None
    process: str | None = None
    lead: LeadKind | None = None
    lead_length: float | None = None
    overburn: float | None = None
    hole_overburn: float = 0.0
    hole_coast: float | None = None
    small_hole: float | None = None
    hole_speed_factor: float | None = None
    splash: float | None = None
    start: Literal["corner", "straight", "anywhere"] = "corner"
    good_edges: tuple[tuple[int, int, int], ...] = ()
    quality: int | None = None
    marks: bool = True
    mark_below: float = 0.0
    dimple: bool = False
    dimple_time: float | None = None
    dimple_amperage: float | None = None
    home: tuple[float, float] = (0.0, 0.0)
    tab_below: float = 0.0
    tabs: TabChoice = TabChoice(count=2)
    common_line: bool = False
    chain: bool = False
    corner_loops: bool = False
    round_inside: float = 0.0
    edge_start: bool = False
    edge_delay: float = 0.0
    cut_off: bool = False
    skeleton: float = 0.0
    spread_heat: float | None = None
    route: bool = True
    slats: float = 100.0
    touch_every: float = 0.0
    post_flow: float = 0.0
    pause_duty: bool = False
    pause_air: bool = False
    pause_tip: bool = False
    worn_delay: float = 0.0
    pause_every: float = 0.0
    cuts: tuple[CutChoice, ...] = ()
    seed: int = 1
    effort: float = 0.5

    def __post_init__(self) -> None:
        checked((*plan_options(), AMPERAGE), self)
        for cut in self.cuts:
            checked(CUT.options, cut, where=f"cuts, placement {cut.placement}, contour {cut.contour}")
        for tabs in (self.tabs, *(c.tabs for c in self.cuts if c.tabs)):
            checked(TABS, tabs, where="tabs")

    def choice(self, placement: int, contour: int) -> CutChoice:
        """Return what was decided for a contour [-], or a choice that decides nothing."""
        for cut in reversed(self.cuts):
            if (cut.placement, cut.contour) == (placement, contour):
                return cut
        return CutChoice(placement=placement, contour=contour)

    def as_dict(self) -> dict[str, Any]:
        """Return plain JSON values, only what differs from the defaults [mm, A, s, -]."""
        plain = BurnOptions()
        whole = asdict(self)
        changed = {
            f.name: whole[f.name] for f in fields(self) if getattr(self, f.name) != getattr(plain, f.name)
        }
        if "cuts" in changed:
            changed["cuts"] = [
                _lean(asdict(c), asdict(CutChoice(placement=c.placement, contour=c.contour)))
                for c in self.cuts
            ]
        return changed

    @staticmethod
    def from_dict(document: Mapping[str, Any], *, where: str = "burn options") -> BurnOptions:
        """Read what `as_dict` wrote, or what the shop wrote on a layout [mm, A, s, -].

        Raises
        ------
        InputError
            Naming the key and what is allowed.
        """
        try:
            values = _known(document, BurnOptions, where)
            values["good_edges"] = tuple(tuple(e) for e in values.get("good_edges", ()))
            values["cuts"] = tuple(
                _cut(c, f"{where}, cuts {i}") for i, c in enumerate(values.get("cuts", ()))
            )
            if "home" in values:
                values["home"] = tuple(values["home"])
            if isinstance(values.get("tabs"), Mapping):
                values["tabs"] = _tabs(values["tabs"], f"{where}, tabs")
            return BurnOptions(**values)
        except (TypeError, ValueError, IndexError, KeyError, AttributeError, OverflowError) as bad:
            if isinstance(bad, InputError):
                raise bad.at(where) from None
            raise InputError(f"The options cannot be used: {bad}.", where=where) from None

    def over(self, layout: Mapping[str, Any]) -> BurnOptions:
        """Return these options laid over those written on a layout; what is said here wins [-]."""
        if not layout:
            return self
        base, mine = BurnOptions.from_dict(layout, where="layout, burn"), self.as_dict()
        values = {key: getattr(self, key) for key in mine}
        if "cuts" in values:
            values["cuts"] = (*base.cuts, *self.cuts)
        return replace(base, **values)


def _lean(values: dict[str, Any], plain: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in values.items() if k in ("placement", "contour") or v != plain[k]}


def _known(
    document: Mapping[str, Any], kind: type[BurnOptions | CutChoice | TabChoice], where: str
) -> dict[str, Any]:
    names = [f.name for f in fields(kind)]
    for key in document:
        if key not in names:
            raise InputError(f"The key '{key}' is not known.", where=where, allowed=", ".join(names))
    return dict(document)


def _cut(document: Mapping[str, Any], where: str) -> CutChoice:
    values = _known(document, CutChoice, where)
    if not {"placement", "contour"} <= values.keys():
        raise InputError("A choice for one cut needs 'placement' and 'contour'.", where=where)
    if isinstance(values.get("tabs"), Mapping):
        values["tabs"] = _tabs(values["tabs"], f"{where}, tabs")
    if values.get("start") is not None:
        values["start"] = (float(values["start"][0]), float(values["start"][1]))
    return CutChoice(**values)


def _tabs(document: Mapping[str, Any], where: str) -> TabChoice:
    values = _known(document, TabChoice, where)
    values["at"] = tuple((float(x), float(y)) for x, y in values.get("at", ()))
    return TabChoice(**values)
