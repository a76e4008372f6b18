"""Quote and invoice: what the customer holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from platewright.geometry import Profile
from platewright.paper.flow import MARGIN, Flow
from platewright.paper.ink import SOFT, Ink
from platewright.paper.look import Frame, is_sign, on_wall
from platewright.paper.pages import page
from platewright.part.model import Part
from platewright.price.ledger import Issued
from platewright.price.quote import Break

__all__ = ["Letterhead", "customer_document"]

BUYER = (
    "Parts are cut to the drawing shown. Whether they fit, and whether they are strong enough for their use, is for the buyer to "
    "judge; structural use needs a licensed engineer and follows local codes. Cut edges are hot-cut and may be sharp."
)
TERMS = "Payment on collection unless agreed otherwise. Material remains the shop's until paid for."


@dataclass(frozen=True, slots=True, kw_only=True)
class Letterhead:
    """The shop as the customer sees it: name, lines of address, paper, terms in its own words, money marks."""

    name: str
    lines: tuple[str, ...] = ()
    paper: str = "letter"
    terms: str = TERMS
    thousands: str = ","
    point: str = "."


def customer_document(
    issued: Issued,
    head: Letterhead,
    *,
    parts: Sequence[Part] = (),
    options: Sequence[Break] = (),
    finish: str = "",
) -> bytes:
    """Return a quote or invoice as PDF, with a picture of each part and prices for other quantities.

    Amounts are shown in the document's currency [currency], pictures are not to scale. Signs, and all parts that get a
    finish (paint, powder, rust), are drawn as they hang on a wall.
    """
    ink = Ink(page(head.paper), f"{issued.kind} {issued.number}")
    foot = f"{head.name}  {issued.kind} {issued.number}"
    flow = Flow(ink, head=lambda i, n: _head(i, n, issued, head), foot=foot)
    _pictures(flow, parts, finish)
    flow.title("What is asked")
    rows = [
        [line.text, str(line.quantity), _amount(line.each, head), _amount(line.amount, head)]
        for line in issued.lines
    ]
    flow.table(
        ["", "how many", "each", f"amount, {issued.currency}"],
        rows,
        widths=[6, 1.6, 2, 2.4],
        right=(1, 2, 3),
        size=3.2,
    )
    _sums(flow, issued, head)
    if options:
        flow.title("Other quantities")
        flow.table(
            ["sets of the above", f"a set, {issued.currency}", f"in all, {issued.currency}"],
            [[str(b.quantity), _amount(b.each, head), _amount(b.price, head)] for b in options],
            widths=[2, 2, 2],
            right=(0, 1, 2),
            size=3.2,
        )
        if issued.tax_share:
            flow.words("Tax comes on top.", soft=True)
    flow.title("Terms")
    if issued.kind == "quote":
        flow.words(f"Valid until {(issued.day + timedelta(days=issued.valid_days)).isoformat()}.")
    flow.words(issued.terms or head.terms)
    flow.words(BUYER, soft=True)
    return ink.bytes()


def _amount(amount: Decimal, head: Letterhead) -> str:
    """Return 1234.5 as 1,234.50 in the shop's marks."""
    return f"{amount:,.2f}".translate({ord(","): head.thousands, ord("."): head.point})


def _head(ink: Ink, number: int, issued: Issued, head: Letterhead) -> float:
    top = ink.page.height - MARGIN
    half = (ink.page.width - 2 * MARGIN) / 2
    ink.text(MARGIN, top - 6, head.name, size=5.4, bold=True, width=half)
    ink.text(
        ink.page.width - MARGIN,
        top - 6,
        f"{'Quote' if issued.kind == 'quote' else 'Invoice'} {issued.number}",
        size=5.4,
        bold=True,
        align="right",
        width=half,
    )
    if number > 1:
        return top - 11
    y = top - 12
    for line in head.lines:
        ink.text(MARGIN, y, line, size=2.8, colour=SOFT, width=half)
        y -= 4
    right = [
        issued.day.isoformat(),
        f"for {issued.customer}",
        issued.job,
        *([f"stands for {issued.replaces}"] if issued.replaces else []),
    ]
    level = top - 12
    for line in right:
        ink.text(ink.page.width - MARGIN, level, line, size=3.2, align="right", width=half)
        level -= 4.6
    return min(y, level) - 2


def _sums(flow: Flow, issued: Issued, head: Letterhead) -> None:
    rows = [("sum", issued.net)]
    if issued.tax_share:
        rows.append((f"tax {issued.tax_share * 100:f}".rstrip("0").rstrip(".") + " %", issued.tax))
    rows.append(("to pay", issued.total))
    flow.need(6 * len(rows) + 2)
    for name, amount in rows:
        flow.y -= 5.6
        bold = name == "to pay"
        flow.ink.text(flow.right - 42, flow.y, name, size=3.4, bold=bold, align="right")
        flow.ink.text(flow.right - 1.2, flow.y, _amount(amount, head), size=3.4, bold=bold, align="right")
    flow.y -= 2


def _pictures(flow: Flow, parts: Sequence[Part], finish: str) -> None:
    columns, height = 4, 34.0
    span = flow.width / columns
    for start in range(0, len(parts), columns):
        flow.need(height + 8)
        for k, part in enumerate(parts[start : start + columns]):
            x = flow.left + k * span
            frame = Frame(x + 2, flow.y - height, span - 4, height - 4)
            if finish or is_sign(part):
                on_wall(flow.ink, part.profile, frame, finish=finish)
            else:
                _thumbnail(
                    flow.ink, part.profile, x=frame.x, y=frame.y, width=frame.width, height=frame.height
                )
            flow.ink.text(
                x + span / 2, flow.y - height - 4, part.name, size=2.8, align="middle", width=span - 3
            )
        flow.y -= height + 7


def _thumbnail(ink: Ink, profile: Profile, *, x: float, y: float, width: float, height: float) -> None:
    box = profile.bounds()
    scale = min(width / box.width, height / box.height)
    ink.push(
        x=x + (width - box.width * scale) / 2 - box.x0 * scale,
        y=y + (height - box.height * scale) / 2 - box.y0 * scale,
        scale=(scale, scale),
    )
    ink.pen(0.3 / scale)
    ink.profile(profile, fill=(0.92, 0.93, 0.94))
    ink.pop()
