"""Three hundred words in five fonts, and what of a cut word an outside polygon library finds amiss; [mm]."""

from __future__ import annotations

import io
import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

HEIGHTS = (30.0, 45.0, 60.0, 90.0, 130.0, 200.0, 300.0)
NOUNS = [
    "Barn",
    "Gate",
    "Mill",
    "Orchard",
    "Stable",
    "Dairy",
    "Forge",
    "Paddock",
    "Meadow",
    "Granary",
    "Kennel",
    "Creek",
    "Hollow",
    "Ridge",
    "Spring",
    "Pasture",
    "Haymow",
    "Cider",
    "Honey",
    "Eggs",
    "Goose",
    "Mutton",
    "Quarry",
    "Sawpit",
    "Tannery",
    "Yard",
    "Byre",
    "Croft",
    "Weir",
    "Fold",
]
NAMES = [
    "Äsby",
    "Bröl",
    "Çinar",
    "Dôle",
    "Égar",
    "Fjöl",
    "Gråø",
    "Høj",
    "Île",
    "Jürg",
    "Kåge",
    "Löß",
    "Müll",
    "Niño",
    "Öxi",
    "Piñar",
    "Qvåg",
    "Rëm",
    "Søby",
    "Tür",
    "Ûby",
    "Vågå",
    "Wýn",
    "Zéta",
]


def words() -> list[str]:
    """Return 300 words and short lines, the same every time: names, numbers, accents, signs [-]."""
    made = [*NOUNS, *(n.upper() for n in NOUNS), *NAMES, *(n.upper().replace("ß", "SS") for n in NAMES)]
    for k, (a, b) in enumerate(itertools.product(NOUNS, NAMES)):
        if len(made) >= 300:
            break
        if k % 3 == 0:
            made.append(
                (f"{a} {k % 97}", f"{b} {a}", f"No {k % 1000}", f"{a[:4]}: {b}!", f"{b} & {a[:3]}")[
                    k // 4 % 5
                ]
            )
    return made[:300]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One word: its text, font, capital height [mm], what it is cut from, and whether it is cut out or stands."""

    text: str
    font: str
    height: float
    thickness: float
    kerf: float
    out: bool


def cases(share: float = 1.0) -> Iterator[Case]:
    """Yield every word in every font, heights in turn; of them a share, evenly taken [-]."""
    from platewright.pattern.letters.font import SHIPPED

    fonts = sorted(SHIPPED)
    step = max(1, round(1 / share))
    step += step > 1 and step % len(fonts) == 0  # so that a share goes through all fonts
    for n, (text, font) in enumerate(itertools.product(words(), fonts)):
        if n % step == 0:
            height = HEIGHTS[(n // step) % len(HEIGHTS)]
            thick, kerf = (2.0, 1.0) if height < 60 else (3.0, 1.5)
            yield Case(
                text=text, font=font, height=height, thickness=thick, kerf=kerf, out=(n // step) % 2 == 0
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What an outside library says of a word: pieces, valid, thin webs, departure [mm], share of the letters kept, stops."""

    pieces: int
    valid: bool
    thin: int
    departure: float
    kept: float
    stops: int


def judge(case: Case) -> Judged:
    """Make a word and judge it [mm]."""
    import shapely

    from platewright.geometry import Contour, Profile
    from platewright.pattern.letters.cut import Making, cut_out, metal_of, standing, upright_of
    from platewright.pattern.letters.font import shipped
    from platewright.pattern.letters.setting import Setting, box_of, set_text

    making = Making(thickness=case.thickness, kerf=case.kerf)
    gap = making.least() + 0.1 if case.out else 0.0
    letters = set_text(case.text, shipped(case.font), Setting(height=case.height, gap=gap))
    void = metal_of(letters)
    box = box_of(letters)
    x0, y0, x1, y1 = box.x0, box.y0, box.x1, box.y1
    room = 4 * making.least()
    plate = Profile(Contour.rectangle(x1 - x0 + 2 * room, y1 - y0 + 2 * room, x=x0 - room, y=y0 - room))
    rail = Profile(
        Contour.rectangle(x1 - x0 + 2 * room, 0.2 * case.height, x=x0 - room, y=-0.12 * case.height)
    )
    made = (
        cut_out(plate, void, making, upright=upright_of(letters))
        if case.out
        else standing(void, [rail], making)
    )

    metal, ink = polygon(made.metal), polygon(void)
    letter_metal = (
        metal.intersection(ink) if not case.out else polygon([plate]).difference(metal).intersection(ink)
    )
    return Judged(
        pieces=len(shapely.get_parts(metal)), valid=bool(metal.is_valid), thin=thin_webs(metal, making.least()),
        departure=departure(letters, case, ink), kept=float(letter_metal.area / ink.area),
        stops=sum(f.severity == "stop" for f in made.findings),
    )  # fmt: skip


def polygon(profiles: object) -> object:
    """Return profiles as polygons by our own chords, for the outside library to judge."""
    import shapely

    from platewright.geometry import flatten

    return shapely.union_all(
        [shapely.Polygon(flatten(p.outer, tolerance=0.005), [flatten(h, tolerance=0.005) for h in p.holes]) for p in profiles]
    )  # fmt: skip


def thin_webs(metal: object, limit: float) -> int:
    """Count webs narrower than a limit [mm] by erosion: what is lost between two parts of the eroded metal, or beside none."""
    import shapely

    half = limit / 2 - 0.05
    core = metal.buffer(-half)
    count = 0
    for lost in shapely.get_parts(metal.difference(core.buffer(half + 0.05))):
        if lost.area > 0.01:
            near = shapely.get_parts(core.intersection(lost.buffer(1.5 * limit)))
            count += sum(lost.distance(part) < half + 0.15 for part in near) != 1
    return count


def departure(letters: object, case: Case, ink: object) -> float:
    """Return how far the set letters lie from the font's own curves at most [mm], sampled by the font library."""
    import shapely
    from fontTools.pens.basePen import BasePen
    from fontTools.ttLib import TTFont

    from platewright.pattern.letters.font import cap_height, shipped

    class Sampled(BasePen):
        def __init__(self, glyphs: object) -> None:
            super().__init__(glyphs)
            self.points: list[tuple[float, float]] = []

        def _moveTo(self, point: tuple[float, float]) -> None:  # noqa: N802 - the library's name
            self.points.append(point)

        def _lineTo(self, point: tuple[float, float]) -> None:  # noqa: N802 - the library's name
            self.points.append(point)

        def _curveToOne(self, a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> None:  # noqa: N802 - the library's name
            p = np.array([self._getCurrentPoint(), a, b, c])
            t = np.linspace(0, 1, 13)[1:, None]
            w = np.hstack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3])
            self.points += [tuple(q) for q in (w @ p).tolist()]

    font = shipped(case.font)
    opened = TTFont(io.BytesIO(font.data))
    scale = case.height / (cap_height(font) * opened["head"].unitsPerEm)
    edge, worst = ink.boundary, 0.0
    inner = ink.buffer(-0.1)
    for one in letters:
        pen = Sampled(opened.getGlyphSet())
        opened.getGlyphSet()[opened.getBestCmap()[ord(one.text)]].draw(pen)
        spots = shapely.points(one.pose.points(np.array(pen.points) * scale))
        away = shapely.distance(edge, spots[~shapely.intersects(inner, spots)])
        worst = max(worst, float(away.max(initial=0.0)))
    return worst
