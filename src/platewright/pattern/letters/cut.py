"""Letters made for the process: cut out of a plate with bridges, or standing joined in one piece.

Both ways start from the letters as the font draws them and end in metal no web of which is narrower than the limit.
What is done on the way is told by findings, each with its place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from platewright.findings import Finding, finding
from platewright.geometry import Contour, Profile
from platewright.pattern.letters import webs
from platewright.pattern.letters.bridges import Bridge, bridge_void
from platewright.pattern.letters.setting import Letter, box_of
from platewright.pattern.letters.tidy import eased, tidied

__all__ = ["Lettered", "Making", "cut_out", "joined", "mended", "metal_of", "standing", "upright_of"]

Mend = Literal["thin places", "whole letters", "leave"]
SUNK = 0.5
"""A post runs this far into what it joins, as a part of its width [-]."""
OVER = 0.05
"""Webs and bridges are drawn this much wider than their limit [mm], so that no rounding makes them narrower."""
ROUNDS = 5
"""Webs and gaps are looked at in turn so many times at most [-]."""
SPECK = 1e-3
"""A piece smaller than this is rounding, no piece [mm²]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """What the sign is cut with and how.

    Attributes
    ----------
    thickness, kerf : of plate and cut [mm]
    web : narrowest metal [mm]; 0 takes the rule of `least_web`
    bridges : whether islands are held by bridges
    mend : what is done about thin places
    moved : bridges put elsewhere by hand, by name [mm]
    """

    thickness: float = 3.0
    kerf: float = 1.5
    web: float = 0.0
    bridges: bool = True
    mend: Mend = "thin places"
    moved: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def least(self) -> float:
        """Return the narrowest metal allowed [mm]."""
        return self.web if self.web > 0 else webs.least_web(self.thickness, self.kerf)


@dataclass(frozen=True, slots=True)
class Lettered:
    """Metal with letters [mm], its bridges, what was found, and the letters as the font draws them."""

    metal: tuple[Profile, ...]
    letters: tuple[Profile, ...]
    bridges: tuple[Bridge, ...] = ()
    findings: tuple[Finding, ...] = ()


def metal_of(letters: Iterable[Letter]) -> tuple[Profile, ...]:
    """Return placed letters as one shape [mm], overlaps dissolved."""
    from platewright.geometry.regions.boolean import union

    return union([p for one in letters for p in one.placed()])


def upright_of(letters: Sequence[Letter]) -> Callable[[tuple[float, float]], float]:
    """Return the function that tells the turn of the letter nearest to a place [mm, rad]."""
    middles = [(*box_of([one]).middle, one.pose.angle) for one in letters]

    def turn(at: tuple[float, float]) -> float:
        return min(middles, key=lambda m: (m[0] - at[0]) ** 2 + (m[1] - at[1]) ** 2)[2] if middles else 0.0

    return turn


def cut_out(
    plate: Profile, void: Sequence[Profile], making: Making,
    *, upright: Callable[[tuple[float, float]], float] = lambda _: 0.0,
) -> Lettered:  # fmt: skip
    """Return a plate with letters cut out of it.

    Parameters
    ----------
    plate : the plate, perhaps with holes [mm]
    void : the letters [mm]; they may not cross each other
    making : kerf, web, bridges
    upright : the turn of the letter at a place [rad]

    Returns
    -------
    the plate's metal; one profile if everything is held, else the loose pieces after it
    """
    from platewright.geometry.regions.boolean import difference

    drawn = tuple(void)
    found: list[Finding] = []
    wider = _strokes(drawn, webs.least_gap(making.kerf), making, found)
    bridges: tuple[Bridge, ...] = ()
    if making.bridges:
        held = bridge_void(
            wider, making.least() + OVER, kerf=making.kerf, upright=upright, moved=making.moved
        )
        wider, bridges = held.void, held.bridges
        found += [finding("C104", place=spot, width=making.least()) for spot in held.loose]
    metal = difference(plate, wider)
    metal = _webs(metal, making, found, what="metal")
    metal = _without_pinholes(metal, making, found)
    loose = metal[1:]
    if loose:
        found.insert(0, finding("C100", place=loose[0].bounds().middle, count=len(loose)))
    return Lettered(metal, drawn, bridges, tuple(found))


def mended(metal: Sequence[Profile], making: Making, *, what: str = "metal") -> Lettered:
    """Return metal made for the cut [mm]: webs wide enough, no gap too narrow, no hole without room, or told that it is not."""
    found: list[Finding] = []
    done = _without_pinholes(_webs(tuple(metal), making, found, what=what), making, found)
    return Lettered(done, tuple(metal), (), tuple(found))


def joined(metal: Sequence[Profile], making: Making) -> Lettered:
    """Return loose pieces joined into one by strips as wide as a web [mm]."""
    if len(metal) < 2:
        return Lettered(tuple(metal), tuple(metal))
    whole, count = _posted(tuple(metal), making.least() + OVER)
    notice = finding("C106", place=whole[0].bounds().middle, count=count, width=making.least())
    return Lettered(whole, tuple(metal), (), (notice,))


def standing(letters: Sequence[Profile], rail: Sequence[Profile], making: Making) -> Lettered:
    """Return letters standing in one piece with a rail or frame, dots and accents joined by posts.

    Parameters
    ----------
    letters : their metal [mm]
    rail : what they stand on or in [mm]; none for letters that join each other
    making : kerf and web
    """
    from platewright.geometry.regions.boolean import union

    drawn = tuple(letters)
    found: list[Finding] = []
    bolder = _bolder(drawn, making.least(), found) if making.mend == "whole letters" else drawn
    metal = union(list(bolder), list(rail))
    if len(metal) > 1:
        metal, count = _posted(metal, making.least() + OVER)
        found.append(finding("C106", place=metal[0].bounds().middle, count=count, width=making.least()))
    metal = _webs(metal, making, found, what="the letters")
    metal = _without_pinholes(metal, making, found)
    if len(metal) > 1:
        found.insert(0, finding("C107", place=metal[-1].bounds().middle, count=len(metal) - 1))
    return Lettered(metal, drawn, (), tuple(found))


# -- thin places -------------------------------------------------------------------------------


def _strokes(
    void: tuple[Profile, ...], gap: float, making: Making, found: list[Finding]
) -> tuple[Profile, ...]:
    """Return what is cut out with its strokes wide enough for the cut, or tell that they are not."""
    if making.mend == "whole letters":
        return _bolder(void, gap, found)
    if making.mend == "thin places":
        wider, before = webs.patched(void, gap)
        _note_thin(before, gap, "the letters", found)
        return wider
    thin = webs.thin_places(webs.polygons(void), gap)
    if thin:
        found.append(
            finding(
                "C101", place=thin[0].place, count=len(thin), limit=gap, width=thin[0].width, kerf=making.kerf
            )
        )
    return void


def _webs(
    metal: tuple[Profile, ...], making: Making, found: list[Finding], *, what: str
) -> tuple[Profile, ...]:
    """Return metal with its webs wide enough and gaps too narrow for the cut filled, or tell that they are not.

    A filled gap may be a new thin web, and a wider web may leave a new narrow gap, so both are looked at in turn.
    """
    from platewright.geometry.regions.boolean import union

    limit, gap = making.least() + OVER, webs.least_gap(making.kerf)
    if making.mend == "leave":
        thin = webs.thin_places(webs.polygons(metal), limit)
        if thin:
            found.append(
                finding("C102", place=thin[0].place, count=len(thin), limit=limit, width=thin[0].width)
            )
        return metal
    for turn in range(ROUNDS):
        metal, before = webs.patched(metal, limit)
        metal, necks = webs.widened(metal, limit)
        if turn == 0:
            _note_thin(before or necks, making.least(), what, found)
        import shapely

        solid = webs.polygons(metal)
        around = shapely.box(*solid.buffer(4 * gap).bounds).difference(solid)
        narrow = [t for t in webs.thin_places(around, gap) if t.joins != 0]
        if narrow:
            metal = union(list(metal), [p for thin in narrow for p in webs.patch(thin, gap)])
            continue
        rounder = eased(metal, making.kerf)
        if rounder is metal:
            break
        metal = rounder
    return webs.patched(webs.widened(metal, limit)[0], limit)[0]


def _bolder(shape: tuple[Profile, ...], limit: float, found: list[Finding]) -> tuple[Profile, ...]:
    """Return a shape grown all round by its exact offset until its narrowest place is as wide as a limit [mm]."""
    from platewright.geometry.regions.boolean import union
    from platewright.geometry.regions.offset import offset_profile

    thin = webs.thin_places(webs.polygons(shape), limit)
    if not thin:
        return shape
    by = (limit - thin[0].width) / 2
    found.append(finding("C108", place=thin[0].place, offset=by, limit=limit))
    return union([q for p in shape for q in offset_profile(p, by, corners="sharp", sharp_limit=2.0)])


def _note_thin(before: list[webs.Thin], limit: float, what: str, found: list[Finding]) -> None:
    if before:
        least = min(before, key=lambda t: t.width)
        found.append(
            finding("C103", place=least.place, count=len(before), what=what, limit=limit, width=least.width)
        )


def _without_pinholes(
    metal: tuple[Profile, ...], making: Making, found: list[Finding]
) -> tuple[Profile, ...]:
    """Return metal without holes in which the cut has no room."""
    small: list[Contour] = []
    kept = []
    for profile in metal:
        if profile.area() < SPECK:
            continue
        tight = [
            h for h in profile.holes if webs.polygons([Profile(h)]).buffer(-making.kerf / 2 * 0.98).is_empty
        ]
        small += tight
        kept.append(
            Profile(profile.outer, tuple(h for h in profile.holes if h not in tight)) if tight else profile
        )
    if small:
        x, y = small[0].points.mean(axis=0)
        found.append(finding("C105", place=(float(x), float(y)), count=len(small), kerf=making.kerf))
    return tuple(_neat(p, making) for p in kept)


def _neat(profile: Profile, making: Making) -> Profile:
    """Return a profile without its tiny edges, unless a web becomes too thin by that."""
    neat = tidied(profile)
    if making.mend != "leave" and webs.thin_places(webs.polygons([neat]), making.least()):
        return profile
    return neat


# -- posts -------------------------------------------------------------------------------------


def _posted(metal: tuple[Profile, ...], width: float) -> tuple[tuple[Profile, ...], int]:
    """Return metal with its loose pieces joined to the largest by posts of a width [mm], and how many."""
    from platewright.geometry.regions.boolean import union

    count = 0
    for _ in range(len(metal)):
        if len(metal) < 2:
            break
        main, *rest = sorted(metal, key=_spread, reverse=True)
        body = webs.polygons([main])
        pieces = [(webs.polygons([p]), p) for p in rest]
        near = min(pieces, key=lambda pair: float(pair[0].distance(body)))
        metal = union([main, *rest], [_post(near[0], body, width)])
        count += 1
    return metal, count


def _spread(profile: Profile) -> float:
    box = profile.bounds()
    return box.width * box.height


def _post(piece: Any, body: Any, width: float) -> Profile:
    """Return the strip that joins a piece to the body [mm]: straight down or up where there is metal, else the shortest way."""
    import shapely
    from shapely.ops import nearest_points

    x0, _y0, x1, _y1 = piece.bounds
    low, high = body.bounds[1] - 1, body.bounds[3] + 1
    best: tuple[float, float, float, float] | None = None
    for k in range(1, 12):
        x = x0 + (x1 - x0) * k / 12
        own = piece.intersection(shapely.LineString([(x, low), (x, high)]))
        if own.is_empty:
            continue
        down = body.intersection(shapely.LineString([(x, low), (x, own.bounds[1])]))
        up = body.intersection(shapely.LineString([(x, own.bounds[3]), (x, high)]))
        for there, start, end in ((down, own.bounds[1], 3), (up, own.bounds[3], 1)):
            if there.is_empty:
                continue
            stop = there.bounds[end]
            cost = abs(start - stop) + 0.3 * abs(x - (x0 + x1) / 2)
            if best is None or cost < best[0]:
                best = (cost, x, min(start, stop), max(start, stop))
    into = SUNK * width
    if best is not None:
        _, x, low, high = best
        return Profile(Contour.rectangle(width, high - low + 2 * into, x=x - width / 2, y=low - into))
    a, b = nearest_points(piece, body)
    dx, dy = b.x - a.x, b.y - a.y
    size = max(float((dx * dx + dy * dy) ** 0.5), 1e-9)
    ux, uy = dx / size, dy / size
    half = width / 2
    corners = [
        (-into - half, -half),
        (size + into + half, -half),
        (size + into + half, half),
        (-into - half, half),
    ]
    return Profile(Contour.from_points([(a.x + s * ux - t * uy, a.y + s * uy + t * ux) for s, t in corners]))
