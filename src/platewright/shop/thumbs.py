"""Small pictures of jobs and parts for the lists: a kept scene as one plain SVG."""

from __future__ import annotations

from html import escape

from platewright.shop.pipeline import StepState
from platewright.shop.scene import SceneData

__all__ = ["picture_of", "scene_of"]

DRAWN = ("plate", "keepout", "part", "other", "cut-part", "cut-held", "outline")
"""Kinds of drawables worth drawing small."""
STYLE = (
    "path{stroke:#454d57;stroke-width:1.2px;vector-effect:non-scaling-stroke;fill:#eef1f3}"
    ".plate{fill:#c6ccd1}.keepout{fill:#d9a0a5}.other{fill:#dbe6de}"
    "@media(prefers-color-scheme:dark){path{stroke:#f4efe4;fill:#5a6773}.plate{fill:#39424c}.keepout{fill:#7a3a42}.other{fill:#4f6a5b}}"
)


def scene_of(found: list[StepState], part: str = "") -> SceneData | None:
    """Return the newest scene of a job worth a small picture [mm]: as cut, as laid, or the part alone."""
    wanted = [f"part:{part}", f"pattern:{part}"] if part else ["proof", "layout"]
    by_id = {s.step.id: s for s in found}
    first = next((s.step.part for s in found if s.step.station == "part"), "")
    for ident in wanted if part else [*wanted, f"part:{first}", f"pattern:{first}"]:
        state = by_id.get(ident)
        if (
            state is not None
            and state.state == "done"
            and state.result
            and (drawn := state.result.get("scene"))
        ):
            return drawn
    return None


def picture_of(scene: SceneData, title: str) -> str:
    """Return a scene [mm] as a small SVG of its own."""
    x, y, width, height = scene["box"]
    rows = [
        f'<path class="{escape(i["kind"])}" fill-rule="evenodd" d="{escape(i["d"])}"/>'
        for i in scene["items"]
        if i["kind"] in DRAWN and i.get("d")
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{x} {y} {width} {height}"><title>{escape(title)}</title>'
        f"<style>{STYLE}</style>{''.join(rows)}</svg>"
    )
