"""One theme: the small pictures a server draws use the page's own colours."""

from __future__ import annotations

import re
from pathlib import Path

from platewright.shop.thumbs import STYLE

LOOK = Path(__file__).resolve().parents[2] / "client" / "src" / "look.css"


def colours(name: str) -> tuple[str, str]:
    found = re.search(rf"--{name}: light-dark\((#\w+), (#\w+)\)", LOOK.read_text(encoding="utf-8"))
    assert found is not None, name
    return found[1], found[2]


def test_small_pictures_take_their_colours_from_the_page() -> None:
    light, dark = STYLE.split("@media")
    for rule, selector in (("plate", ".plate"), ("other", ".other")):
        here, there = colours(rule)
        assert f"{selector}{{fill:{here}}}" in light
        assert f"{selector}{{fill:{there}}}" in dark
    assert f"fill:{colours('metal')[0]}" in light
    assert f"fill:{colours('metal')[1]}" in dark
    assert f"stroke:{colours('soft')[0]}" in light
    assert f"stroke:{colours('metal-line')[1]}" in dark


def test_no_component_names_a_colour_of_its_own() -> None:
    """A picture of real things (the marker cards on a bench) may; everything else takes the theme's."""
    named = re.compile(r"(?:color|background|fill|stroke|border)[\w-]*:[^;{]*#[0-9a-f]{3,8}\b")
    sources = sorted((LOOK.parent).rglob("*.svelte"))
    assert len(sources) > 60
    bad = [p.name for p in sources if named.search(p.read_text(encoding="utf-8"))]
    assert bad == ["CardsPicture.svelte"]
