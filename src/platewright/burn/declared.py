"""Every choice about a burn, declared once: for the whole plan in groups, and for one cut."""

from __future__ import annotations

from platewright.declared import Option, OptionGroup

__all__ = ["CUT", "LEADS", "PLAN", "plan_options"]

LEADS = ("arc", "straight", "centre", "edge")
_O = Option

PLAN: tuple[OptionGroup, ...] = (
    OptionGroup(
        "leads", "Leads and starts", "Where a cut starts, and how it comes in and goes out.",
        (
            _O(name="start", label="start at", kind="choice", default="a corner, if there is one", choices=("corner", "straight", "anywhere")),
            _O(name="lead", label="lead-in", kind="choice", default="the best that fits", choices=LEADS),
            _O(name="lead_length", label="lead length", kind="length", low=0.5, high=60, default="from the chart"),
            _O(name="overburn", label="run past the start", kind="length", low=-5, high=20, default="one kerf", help="on outlines; minus stops short"),
            _O(name="splash", label="room round a pierce", kind="length", low=0.2, high=60, default="from metal and kerf"),
            _O(name="edge_start", label="start off the plate’s edge", kind="flag", default="no", help="where the plate is too thick to pierce"),
            _O(name="edge_delay", label="stand lit at such a start", kind="time", low=0, high=5, default="0 s: move at once", help="at the plate’s edge and in an open kerf; for tables that do not wait for the arc by themselves"),
        ),
    ),
    OptionGroup(
        "holes", "Holes", "Small holes are cut slower; very small ones are better drilled.",
        (
            _O(name="small_hole", label="slow below", kind="length", low=0, high=500, default="4 × thickness, at least 12 mm"),
            _O(name="hole_speed_factor", label="their speed", kind="share", low=0.2, high=1, default="from the chart", help="of the cut speed"),
            _O(name="hole_overburn", label="run past the start", kind="length", low=-5, high=10, default="0 mm", help="minus stops short"),
            _O(name="hole_coast", label="run on, arc out", kind="length", low=0, high=30, default="2 to 6 mm in small holes", help="moving as the arc dies leaves no divot; 0 stops with it"),
            _O(name="mark_below", label="only mark below", kind="length", low=0, high=200, default="0 mm", help="narrower round holes get a drill mark; slots are cut"),
            _O(name="dimple", label="mark centres with the arc", kind="flag", default="no", help="where no tool marks them, on plate from 3 mm; the spot is hard to drill"),
            _O(name="dimple_time", label="that arc burns", kind="time", low=0.05, high=1, default="a quarter of the pierce delay, at least 0.1 s"),
            _O(name="dimple_amperage", label="at", kind="current", low=5, high=1000, default="the amperage of the cuts", help="the program stops for you to set it"),
        ),
    ),
    OptionGroup(
        "corners", "Corners, shared cuts, cutting off", "",
        (
            _O(name="round_inside", label="round inside corners to", kind="length", low=0, high=50, default="0 mm", help="0: as the kerf leaves them"),
            _O(name="corner_loops", label="loop round sharp corners", kind="flag", default="no", help="in the scrap, so that they come out sharp"),
            _O(name="common_line", label="cut shared edges once", kind="flag", default="no", help="where parts lie a kerf apart"),
            _O(name="cut_off", label="cut the plate off last", kind="flag", default="no", help="along the layout’s straight cut-off line"),
            _O(name="chain", label="run on to the next part", kind="flag", default="no", help="without a new pierce"),
        ),
    ),
    OptionGroup(
        "tabs", "Tabs", "Bridges left standing so that small parts do not tip or fall.",
        (
            _O(name="tab_below", label="for parts below", kind="length", low=0, high=2000, default="0 mm: none", help="their longest side"),
            _O(name="tabs_count", label="how many", kind="count", low=0, high=50, default="2"),
            _O(name="tabs_width", label="how wide", kind="length", low=0, high=50, default="from the thickness"),
        ),
    ),
    OptionGroup(
        "order", "Order, heat and travel", "",
        (
            _O(name="spread_heat", label="from one cut to the next at least", kind="length", low=0, high=2000, default="30 mm up to 1.6 mm, else off"),
            _O(name="route", label="go round tipped pieces", kind="flag", default="yes"),
            _O(name="slats", label="slats are apart", kind="length", low=5, high=1000, default="100 mm"),
            _O(name="home", label="torch rests at", kind="spot", default="0, 0 mm"),
            _O(name="skeleton", label="cut up the rest, pieces at most", kind="length", low=0, high=10_000, default="0 mm: left whole", help="across the sheet, after all parts are lifted out; the program stops for that"),
            _O(name="effort", label="look for a better order for", kind="time", low=0, high=60, default="0.5 s"),
            _O(name="seed", label="another order", kind="count", default="1", help="any whole number"),
        ),
    ),
    OptionGroup(
        "pauses", "Touch-off, air and pauses", "A wait goes on by itself; a stop waits for you.",
        (
            _O(name="touch_every", label="touch off again after", kind="length", low=0, high=1000, default="0 mm: at each pierce", help="where the program touches off"),
            _O(name="post_flow", label="air on after each cut", kind="time", low=0, high=120, default="0 s: move on at once"),
            _O(name="pause_duty", label="wait for the duty cycle", kind="flag", default="no", help="as long as the power source needs"),
            _O(name="pause_air", label="wait for the tank", kind="flag", default="no"),
            _O(name="pause_tip", label="stop to change the tip", kind="flag", default="no", help="by pierces and arc time, from the table"),
            _O(name="worn_delay", label="pierce longer as the tip wears", kind="share", low=0, high=1, default="0 %: the same throughout", help="at the end of the tip’s life, growing to that; a worn tip pierces slower (common practice)"),
            _O(name="pause_every", label="stop for a look every", kind="time", low=0, high=86_400, default="0 s: never", help="water level, slag"),
        ),
    ),
    OptionGroup(
        "quality", "Quality and marks", "",
        (
            _O(name="quality", label="edge at least", kind="choice", default="not asked", choices=("1", "2", "3", "4", "5"), help="ISO 9013 range for u, 1 is the squarest"),
            _O(name="marks", label="burn marks and text", kind="flag", default="yes"),
            _O(name="tip", label="tip is rated for", kind="current", low=5, high=1000, default="the amperage", help="told where the two part"),
            _O(name="process", label="gas or process", kind="text", default="the chart’s first for the metal"),
        ),
    ),
)  # fmt: skip

CUT = OptionGroup(
    "cut", "This cut", "Only for this contour; empty is as for the others.",
    (
        _O(name="lead", label="lead-in", kind="choice", default="as the others", choices=LEADS),
        _O(name="lead_length", label="lead length", kind="length", low=0.5, high=60, default="as the others"),
        _O(name="overburn", label="run past the start", kind="length", low=-5, high=20, default="as the others"),
        _O(name="speed_factor", label="speed", kind="share", low=0.2, high=1.5, default="as the others", help="of the cut speed"),
        _O(name="rank", label="burn early or late", kind="rank", default="as the planner finds best", choices=("early", "late")),
        _O(name="reverse", label="go round the other way", kind="flag", default="no"),
        _O(name="tabs_count", label="tabs", kind="count", low=0, high=50, default="as the others"),
        _O(name="tabs_width", label="tab width", kind="length", low=0, high=50, default="from the thickness"),
        _O(name="skip", label="leave it out", kind="flag", default="no"),
    ),
)  # fmt: skip


def plan_options() -> tuple[Option, ...]:
    """Return every choice for the whole plan [mm, s, A, -]."""
    return tuple(o for group in PLAN for o in group.options)
