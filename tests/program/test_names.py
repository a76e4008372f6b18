"""A job's name in a program: whatever it holds, it is a remark or a plain word, never a command."""

from __future__ import annotations

from dataclasses import replace

from platewright.part.families import make
from platewright.program.dialects import load_dialect
from platewright.program.setting import Typesetter


def test_a_line_of_the_dialect_takes_a_name_filtered_like_a_comment() -> None:
    setter = Typesetter(dialect=load_dialect("plain-mm"))
    setter.given("(job {name})", {"name": "gate)\nM3 S1 (\x1b;%"})
    assert setter.lines == ["(job gate--M3 S1 ----)"]


def test_the_name_of_a_part_can_always_be_shown() -> None:
    part = replace(make("gusset", {}), name="strap\x00\x1b[31m\nleft\u202e")
    assert part.name == "strap[31m left"
