"""Every choice about a layout, declared once, and the page of docs that lists the choices of layout and burn."""

from __future__ import annotations

from platewright.declared import Option, OptionGroup

__all__ = ["CLEARANCES", "LAYOUT", "LYING", "OWN", "SEARCH"]

_O = Option
CLEARANCES = (
    _O(name="between", label="between parts", kind="length", low=0, high=1000, default="room for a full lead-in by the cut chart"),
    _O(name="edge", label="to the edge", kind="length", low=0, high=1000, default="room for a full lead-in by the cut chart", help="the plate’s, and of old holes"),
    _O(name="keepout", label="to keep-outs", kind="length", low=0, high=1000, default="10 mm"),
)  # fmt: skip
SEARCH = (
    _O(name="turns", label="how parts may be turned", kind="choice", choices=("free", "quarter", "grain"), default="free"),
    _O(name="goal", label="what counts when not everything fits", kind="choice", choices=("metal", "money", "count", "kits"), default="metal", help="money needs each part's worth"),
    _O(name="repeat_sheets", label="take full sheets as many times as needed", kind="flag", default="no", help="drops once each"),
    _O(name="common", label="common lines", kind="flag", default="no", help="like parts in pairs that share a cut, the kerf apart along a straight edge"),
    _O(name="cut_off", label="straight cut-off line", kind="flag", default="no", help="says where the plate is cut off beside its parts, and keeps parts clear of that line"),
    _O(name="seconds", label="time to search", kind="time", low=0, high=86_400, default="2 s"),
    _O(name="steps", label="search steps instead of seconds", kind="count", low=0, high=1_000_000, default="by time", help="the same answer on any machine"),
    _O(name="seed", label="another layout", kind="count", low=-(2**53), high=2**53, default="1", help="any whole number"),
)  # fmt: skip
LYING = (
    _O(name="heat", label="keep heat apart", kind="flag", default="no", help="small parts and long cuts of neighbours farther from one another"),
    _O(name="slats", label="slats are apart", kind="length", low=5, high=1000, default="not looked at", help="parts are turned and moved so that they neither tip up nor fall, and those that may are told"),
    _O(name="slats_run", label="slats run along the plate’s", kind="choice", choices=("y", "x"), default="y"),
    _O(name="first_slat", label="first slat from the plate’s left or lower end", kind="length", low=-1000, high=1000, default="unknown: any place counts"),
    _O(name="leeway", label="length given up for rows, slats and heat", kind="share", low=0, high=0.5, default="none", help="like parts lie in rows where that costs no more"),
)  # fmt: skip
OWN = OptionGroup(
    "own", "A part of its own", "Only for this part; empty is as for the rest.",
    (
        _O(name="turns", label="how it may be turned", kind="choice", choices=("free", "quarter", "grain"), default="as the rest"),
        _O(name="face_down", label="may be turned face down", kind="flag", default="no"),
        _O(name="clear", label="keeps from others", kind="length", low=0, high=1000, default="as the rest"),
    ),
)  # fmt: skip
LAYOUT = (
    OptionGroup("room", "Free distances", "", CLEARANCES),
    OptionGroup("search", "Turning and search", "", SEARCH),
    OptionGroup(
        "lying", "How parts lie", "Looked after where it costs no plate, or what you give up for it.", LYING
    ),
)
"""Groups as forms, help and docs show them."""
