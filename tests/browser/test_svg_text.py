"""An SVG's text is burned where a browser draws it: both lay out the same words, one in a font, one in strokes."""

from __future__ import annotations

import numpy as np
import pytest
from playwright.sync_api import Browser

from platewright.part.strokes import width
from platewright.pattern.drawing.read import read_drawing

pytestmark = pytest.mark.browser
SHEET = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="160mm" viewBox="0 0 200 160">'
    '<rect width="200" height="160"/><text id="t" {}>HEH</text></svg>'
)


@pytest.mark.parametrize(
    ("said", "share"),
    [
        ('x="40" y="50" font-size="20"', 0.0),
        ('x="40" y="50" style="font-size:20px; text-anchor:middle"', 0.5),
        ('x="40" y="50" font-size="20" text-anchor="end"', 1.0),
        ('font-size="10" transform="translate(60 90) scale(2) rotate(-90)"', 0.0),
        ('font-size="20" text-anchor="middle" transform="translate(60 90) rotate(90)"', 0.5),
    ],
)
def test_text_is_burned_where_a_browser_draws_it(browser: Browser, said: str, share: float) -> None:
    svg = SHEET.format(said)
    (mark,) = (m for m in read_drawing(svg.encode(), "t.svg").marks if m.text)
    assert mark.at is not None
    assert mark.anchor == (share, 0.0)
    assert mark.height == pytest.approx(14.0)  # capitals are 0.7 of the em, common practice of type design
    along, up = (
        np.array([np.cos(mark.angle), np.sin(mark.angle)]),
        np.array([-np.sin(mark.angle), np.cos(mark.angle)]),
    )
    start = np.array(mark.at) - share * width("HEH", mark.height) * along
    middle = start + along * width("HEH", mark.height) / 2 + up * mark.height / 2
    page = browser.new_page()
    page.set_content(svg)
    box = page.evaluate(
        "() => {const t = document.getElementById('t'), b = t.getBBox(), m = t.getScreenCTM(), r = t.ownerSVGElement.getScreenCTM().inverse();"
        "return [[b.x, b.y], [b.x + b.width, b.y + b.height]].map(([x, y]) => {"
        "const p = new DOMPoint(x, y).matrixTransform(m).matrixTransform(r); return [p.x, 160 - p.y]})}"
    )
    page.close()
    theirs = (np.array(box[0]) + np.array(box[1])) / 2
    assert abs((middle - theirs) @ along) < 5  # letters of a font are not as wide as ours
    assert abs((middle - theirs) @ up) < 4  # and a font leaves room below the line
