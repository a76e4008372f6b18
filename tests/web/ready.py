"""Imported once by the process that the tests' jobs are forked from: what jobs import, and their compiled loops.

No picture is read here: OpenCV keeps threads from its first work on, and threads do not live through a fork.
"""

from __future__ import annotations

import cv2  # noqa: F401
import reportlab.pdfgen.canvas  # noqa: F401

import platewright.pattern.capture.photo
import platewright.pattern.capture.scan
import platewright.pattern.shape
import platewright.shop.pipeline
import platewright.shop.steps.burn
import platewright.shop.steps.layout
import platewright.shop.steps.paper
import platewright.shop.steps.part
import platewright.shop.steps.pattern
import platewright.shop.steps.plate
import platewright.shop.steps.proof  # noqa: F401
from platewright.shop import warm

for load in (warm.edges, warm.fit, warm.walls, warm.cuts, warm.close_up, warm.deviations, warm.layout):
    load()
