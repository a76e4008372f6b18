"""Take the picture: paint from the bench up in linear light with exact coverage, then what a phone does to it."""

from __future__ import annotations

import hashlib
import io
import math
import pickle
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image as PILImage

from examples.camera import surfaces
from examples.camera.coverage import Patch, cover
from examples.camera.lens import Floats
from examples.camera.scene import Laid, Scene
from platewright.geometry import flatten
from platewright.pattern.capture.camera.cards import card

Image = NDArray[np.float32]
WALK = 0.5
"""Longest step along an outline when it is laid in the picture [mm]."""


@dataclass(frozen=True, slots=True)
class Canvas:
    """The picture being painted, the ray of every pixel, and the scene."""

    scene: Scene
    rays: Image
    paint: Image

    def cover(self, loops: list[Floats], *, pad: int = 0) -> Patch | None:
        """Return coverage of world loops (N, 3) [mm], holes turning against the outer loop."""
        seen = [self.scene.camera.project(loop) for loop in loops]
        return cover(seen, self.paint.shape[:2], pad=pad)

    def lay(self, patch: Patch | None, colour: Image | None) -> None:
        """Blend a colour (window-sized or one colour) over the picture by coverage."""
        if patch is None or colour is None:
            return
        share = np.clip(np.abs(patch.cover), 0, 1)[..., None]
        spot = self.paint[patch.window]
        spot += share * (colour - spot)

    def places(self, patch: Patch, height: float) -> Image:
        """Return world places [mm] of a window's pixels at a height [mm]."""
        return self.scene.camera.on_plane(self.rays[patch.window], height)

    def shade(self, loops: list[Floats], *, blur: float, depth: float) -> None:
        """Darken by a soft shadow: coverage blurred by `blur` [mm], `depth` [-]."""
        scale = self.scene.camera.focal / self.scene.camera.place[2]
        sigma = max(blur * scale, 0.6)
        patch = self.cover(loops, pad=int(3 * sigma) + 2)
        if patch is None:
            return
        soft = cv2.GaussianBlur(np.clip(np.abs(patch.cover), 0, 1), (0, 0), sigma)
        self.paint[patch.window] *= 1 - depth * soft[..., None]


def _walked(points: Floats) -> Floats:
    """Return the closed loop with no step longer than `WALK` [mm]."""
    step = np.roll(points, -1, axis=0) - points
    count = np.maximum(np.ceil(np.hypot(*step.T) / WALK), 1).astype(int)
    which = np.repeat(np.arange(len(points)), count)
    at = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count)
    return points[which] + step[which] * (at / count[which])[:, None]


def outlines(scene: Scene) -> list[Floats]:
    """Return the template's loops (N, 2) as really cut: the truth plus fray [mm]."""
    rng = np.random.default_rng((scene.seed, 99))
    loops = []
    for contour in scene.truth().contours():
        points = _walked(flatten(contour, tolerance=0.002))
        if scene.fray > 0:
            raw = rng.standard_normal(len(points))
            kernel = np.exp(-0.5 * (np.arange(-20, 21) / 4.0) ** 2)
            smooth = np.convolve(np.concatenate([raw[-20:], raw, raw[:20]]), kernel, mode="valid")
            smooth *= scene.fray / np.sqrt((kernel**2).sum())
            away = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
            normal = np.column_stack([away[:, 1], -away[:, 0]]) / np.hypot(*away.T)[:, None]
            points = points + normal * smooth[:, None]
        loops.append(points)
    return loops


SECTORS = 16
"""Walls that face within one of so many parts of a turn are lit alike [-]."""


def _outward(points: Floats) -> Floats:
    """Return unit normals (N, 2) away from the solid, which lies left of the loop (outer turns left) [-]."""
    along = np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0)
    return np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]


def _walls(low: Floats, high: Floats, place: Floats) -> list[tuple[int, Floats]]:
    """Return the wall's quads that face the camera and the sector each faces; the solid lies left of the loop (outer turns left)."""
    low2, high2 = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
    along = low2 - low
    outward = np.column_stack([along[:, 1], -along[:, 0]])
    facing = (np.cross(along, high - low) * (place - low)).sum(axis=1) > 0
    sector = np.floor(np.arctan2(outward[:, 1], outward[:, 0]) / (2 * np.pi) * SECTORS).astype(int) % SECTORS
    return [(int(sector[i]), np.stack([low[i], low2[i], high2[i], high[i]])) for i in np.flatnonzero(facing)]


def _lit_from(scene: Scene, sector: int) -> float:
    """Return how much light a wall that faces a sector gets, of what it gets on the average [-]."""
    angle = 2 * np.pi * (sector + 0.5) / SECTORS
    toward = -np.array(scene.light.shadow) / max(float(np.hypot(*scene.light.shadow)), 1e-9)
    faces = float(np.array([np.cos(angle), np.sin(angle)]) @ toward)
    # a lamp to one side: the mean over all directions of what is in its light is 1 / pi
    return 1 - scene.lamp + scene.lamp * np.pi * max(faces, 0.0)


def _wall_colour(canvas: Canvas, patch: Patch, face: Image) -> Image:
    """Return the cut edge: the core's colour, or the face's, darker or brighter, with the flutes showing."""
    scene = canvas.scene
    places = canvas.places(patch, 0.0)
    flute = np.sin(places[..., 0] * np.float32(0.9)) * np.sin(places[..., 1] * np.float32(0.9))
    inside = face if scene.core is None else np.broadcast_to(np.array(scene.core, np.float32), face.shape)
    return np.asarray(inside * (scene.wall * (1 + 0.12 * flute[..., None])), dtype=np.float32)


def _lighting(canvas: Canvas, whole: Patch, walls: list[tuple[int, Floats]]) -> Image:
    """Return how bright the walls of a patch are by the way they face [-]."""
    if not canvas.scene.lamp:
        return np.ones((*whole.cover.shape, 1), np.float32)
    high, wide = canvas.paint.shape[:2]
    lit, much = np.zeros((high, wide), np.float32), np.full((high, wide), 1e-6, np.float32)
    for sector in sorted({s for s, _ in walls}):
        part = canvas.cover([quad for s, quad in walls if s == sector])
        if part is None:
            continue
        cover = np.abs(part.cover)
        lit[part.window] += cover * np.float32(_lit_from(canvas.scene, sector))
        much[part.window] += cover
    return np.asarray((lit / much)[whole.window][..., None], dtype=np.float32)


def _board(canvas: Canvas, loops: list[Floats], *, seed: int, bowed: bool) -> None:
    """Paint a piece of board: shadow, wall, face. Loops (N, 2): outer turning left, holes right."""
    scene = canvas.scene
    lift = scene.lifted if bowed else lambda p, z: np.column_stack([p, np.full(len(p), z)])
    foot = [p + scene.lean * _outward(p) for p in loops] if bowed and scene.lean else loops
    low, high = [lift(p, 0.0) for p in foot], [lift(p, scene.board) for p in loops]
    ground = [np.column_stack([p, np.zeros(len(p))]) for p in foot]
    light = scene.light
    for k in (0.33, 0.66, 1.0):
        away = np.array([*light.shadow, 0.0]) * scene.board * k
        canvas.shade([g + away for g in ground], blur=light.blur * k, depth=light.depth / 2.2)
    canvas.shade(ground, blur=1.6, depth=0.25)
    surface = getattr(surfaces, scene.template)
    walls = [q for a, b in zip(low, high, strict=True) for q in _walls(a, b, scene.camera.place)]
    face = canvas.cover(high)
    if face is None:
        return
    colour = surface(canvas.places(face, scene.board), seed)
    wall = canvas.cover([quad for _, quad in walls]) if walls else None
    # face and wall share pixels without overlapping, so their shares add; painting one over the other would let
    # the bench shine through the seam
    left = np.zeros(canvas.paint.shape[:2], np.float32)
    left[face.window] = np.clip(np.abs(face.cover), 0, 1)
    if wall is not None:
        sides = np.clip(np.minimum(np.abs(wall.cover), 1 - left[wall.window]), 0, 1)[..., None]
        beside = _wall_colour(canvas, wall, surface(canvas.places(wall, scene.board), seed))
        beside = beside * _lighting(canvas, wall, walls)
        rest = np.maximum(1 - left[wall.window][..., None] - sides, 0)
        bench = canvas.paint[wall.window].copy()
        canvas.paint[wall.window] = np.where(sides > 0, rest * bench + sides * beside, bench)
        # where there is wall the face's share is still missing; elsewhere it replaces the bench
        share = np.clip(np.abs(face.cover), 0, 1)[..., None]
        touched = np.zeros(canvas.paint.shape[:2], bool)
        touched[wall.window] = sides[..., 0] > 0
        spot = canvas.paint[face.window]
        spot[...] = np.where(
            touched[face.window][..., None], spot + share * colour, spot + share * (colour - spot)
        )
        return
    canvas.lay(face, colour)


def _card(canvas: Canvas, laid: Laid) -> None:
    one = card(laid.card)
    w, h = one.size
    if laid.offcut is not None:
        left, low, right, high = laid.offcut
        rim = [(-left, -low), (w + right, -low), (w + right, h + high), (-left, h + high)]
        _board(canvas, [_walked(laid.pose.points(rim))], seed=laid.card + 100, bowed=False)

    def flat(corners: list[tuple[float, float]]) -> Floats:
        spots = laid.pose.points(corners)
        return np.column_stack([spots, np.full(len(spots), laid.height)])

    def box(x: float, y: float, wide: float, high: float, grow: float) -> Floats:
        a, b, c, d = x - grow, y - grow, x + wide + grow, y + high + grow
        return flat([(a, b), (c, b), (c, d), (a, d)])

    patch = canvas.cover([box(0, 0, w, h, 0)])
    canvas.lay(patch, np.full(3, 0.80, dtype=np.float32))
    canvas.lay(canvas.cover([box(*s, laid.ink) for s in one.squares]), np.full(3, 0.045, dtype=np.float32))


def _litter(canvas: Canvas) -> None:
    """Strew hairs and crumbs on the bench, and one magnet on the template."""
    scene = canvas.scene
    if not scene.litter:
        return
    rng = np.random.default_rng((scene.seed, 5))
    loops = outlines(scene)
    spread = np.ptp(loops[0], axis=0).max()
    for k in range(scene.litter):
        at = loops[0].mean(axis=0) + rng.uniform(-0.6, 0.6, 2) * spread
        if k % 2:
            turn = rng.uniform(0, math.tau, 8)
            bits = at + rng.uniform(0.6, 1.6) * np.column_stack(
                [np.cos(np.sort(turn)), np.sin(np.sort(turn))]
            )
        else:
            along = np.linspace(0, 1, 30)
            bend = rng.uniform(-15, 15, 4)
            line = at + np.column_stack(
                [25 * along + bend[0] * along**2, bend[1] * along + bend[2] * along**2]
            )
            bits = np.vstack([line + (0, 0.06), line[::-1] - (0, 0.06)])
        height = scene.board + 0.3
        colour = np.full(3, 0.03 if k % 2 == 0 else 0.3, dtype=np.float32)
        canvas.lay(canvas.cover([np.column_stack([bits, np.full(len(bits), height)])]), colour)


def _lit(canvas: Canvas) -> None:
    """Multiply by the light: slope, lamp, a hand's soft shadow, the lens's dark corners."""
    light, (high, wide) = canvas.scene.light, canvas.paint.shape[:2]
    y, x = np.meshgrid(
        np.linspace(-0.5, 0.5, high, dtype=np.float32),
        np.linspace(-0.5, 0.5, wide, dtype=np.float32),
        indexing="ij",
    )
    gain = 1 + light.slope[0] * x + light.slope[1] * y
    gain += light.hot[2] * np.exp(-((x - light.hot[0]) ** 2 + (y - light.hot[1]) ** 2) / 0.08)
    gain *= 1 - 0.35 * (x * x + y * y)
    if light.hand:
        edge = (x * math.cos(canvas.scene.seed) + y * math.sin(canvas.scene.seed) - 0.12) / 0.03
        gain *= 1 - light.hand / (1 + np.exp(-edge))
    canvas.paint[...] *= gain[..., None]


def _photographed(scene: Scene, picture: Image) -> NDArray[np.uint8]:
    """Return the 8-bit picture: colour fringes, blur, noise, mosaic, tone curve, sharpening."""
    rng = np.random.default_rng((scene.seed, 3))
    high, wide = picture.shape[:2]
    if scene.fringe:
        for channel, sign in ((0, 1), (2, -1)):
            k = 1 + sign * scene.fringe
            matrix = np.array([[k, 0, (1 - k) * wide / 2], [0, k, (1 - k) * high / 2]])
            picture[..., channel] = cv2.warpAffine(
                picture[..., channel].copy(), matrix, (wide, high), borderMode=cv2.BORDER_REPLICATE
            )
    picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), scene.blur))
    if scene.motion > 0.5:
        length = int(2 * round(scene.motion) + 1)
        kernel = np.zeros((length, length), np.float32)
        cv2.line(kernel, (0, length // 3), (length - 1, length - 1 - length // 3), 1.0, 1, cv2.LINE_AA)
        kernel = cv2.resize(kernel, (3, 3), interpolation=cv2.INTER_AREA) if length < 3 else kernel
        picture = np.asarray(cv2.filter2D(picture, -1, kernel / kernel.sum()))
    picture *= 0.82 / np.float32(np.percentile(picture[::16, ::16], 99.5))
    grain = rng.standard_normal(picture.shape, dtype=np.float32)
    picture += grain * (scene.noise * np.sqrt(np.maximum(picture, 0.01)))
    np.clip(picture, 0, 1, out=picture)
    if scene.mosaic:
        picture = _mosaicked(picture)
    tone = np.where(
        picture <= 0.0031308, 12.92 * picture, 1.055 * np.power(np.maximum(picture, 1e-6), 1 / 2.4) - 0.055
    ).astype(np.float32)
    if scene.sharpen:
        tone += scene.sharpen * (tone - np.asarray(cv2.GaussianBlur(tone, (0, 0), 1.2)))
    return np.clip(tone * 255 + 0.5, 0, 255).astype(np.uint8)


def _mosaicked(picture: Image) -> Image:
    """Return the picture seen through a colour filter mosaic and filled in again."""
    raw = np.empty(picture.shape[:2], np.uint16)
    deep = (picture * 65535).astype(np.uint16)
    raw[0::2, 0::2], raw[1::2, 1::2] = deep[0::2, 0::2, 0], deep[1::2, 1::2, 2]
    raw[0::2, 1::2], raw[1::2, 0::2] = deep[0::2, 1::2, 1], deep[1::2, 0::2, 1]
    return cv2.cvtColor(raw, cv2.COLOR_BayerBG2RGB_EA).astype(np.float32) / 65535


def developed(scene: Scene) -> NDArray[np.uint8]:
    """Return the photograph as an (H, W, 3) 8-bit picture [-]."""
    rays = scene.camera.rays()
    ground = scene.camera.on_plane(rays, 0.0)
    paint = surfaces.BENCHES[scene.bench](ground, scene.seed)
    del ground
    canvas = Canvas(scene, rays, paint)
    _board(canvas, outlines(scene), seed=scene.seed, bowed=True)
    for laid in scene.cards:
        _card(canvas, laid)
    _litter(canvas)
    _lit(canvas)
    return _photographed(scene, canvas.paint)


def shot(scene: Scene) -> bytes:
    """Return the photograph as the JPEG file a phone would write, focal length in its notes."""
    out = io.BytesIO()
    picture = PILImage.fromarray(developed(scene))
    exif = PILImage.Exif()
    nominal = 3028 * picture.width / 4032
    exif.get_ifd(0x8769)[0xA405] = round(43.267 * nominal / math.hypot(*picture.size))  # as on 36 mm film
    picture.save(out, "JPEG", quality=scene.quality, exif=exif)
    return out.getvalue()


def cached(scene: Scene, folder: Path) -> bytes:
    """Return the photograph, kept in a folder under the digest of everything that made it."""
    here = Path(__file__).parent
    code = b"".join(p.read_bytes() for p in sorted(here.glob("*.py")))
    code += (here.parents[1] / "src/platewright/pattern/capture/camera/cards.py").read_bytes()
    name = hashlib.sha256(code + pickle.dumps(scene)).hexdigest()[:20]
    path = folder / f"{name}.jpg"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(".part")
        part.write_bytes(shot(scene))
        part.replace(path)
    return path.read_bytes()
