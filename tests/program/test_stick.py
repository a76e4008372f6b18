"""A copy is compared byte by byte; programs too long for a controller are split between cuts."""

from __future__ import annotations

import pytest

from platewright.errors import InputError, RefusedError
from platewright.program.dialects import load_dialect
from platewright.program.interpreter import interpret
from platewright.program.model import Program
from platewright.program.stick import copy_to_stick, first_difference
from platewright.program.writer import resume, write, write_parts
from tests.program.helpers import washer_plan


class Stick(dict[str, bytes]):
    """A stick that may lose or flip bytes."""

    def __init__(self, spoil: int | None = None, lose: int = 0) -> None:
        super().__init__()
        self.spoil, self.lose = spoil, lose

    def write(self, name: str, data: bytes) -> None:
        if self.spoil is not None:
            data = data[: self.spoil] + bytes([data[self.spoil] ^ 1]) + data[self.spoil + 1 :]
        self[name] = data[: len(data) - self.lose]


def test_a_good_copy_is_reported_with_its_hash() -> None:
    program, dialect, stick = write(washer_plan(), "plain-mm", name="w"), load_dialect("plain-mm"), Stick()
    done = copy_to_stick(program, dialect, write=stick.write, read=stick.__getitem__)
    assert done.sha256 == program.sha256()
    assert stick[program.name] == program.text.encode()


@pytest.mark.parametrize("stick", [Stick(spoil=100), Stick(lose=1), Stick(spoil=0)])
def test_a_bad_copy_is_refused_with_its_place(stick: Stick) -> None:
    program = write(washer_plan(), "plain-mm", name="w")
    with pytest.raises(RefusedError, match=r"differs from the program at line \d+, column \d+"):
        copy_to_stick(program, load_dialect("plain-mm"), write=stick.write, read=stick.__getitem__)


def test_where_texts_first_differ() -> None:
    assert first_difference(b"ab\ncd\n", b"ab\ncd\n") is None
    assert first_difference(b"ab\ncd\n", b"ab\ncx\n") == (2, 2)
    assert first_difference(b"ab\n", b"ab") == (1, 3)


def test_names_and_sizes_beyond_the_controller() -> None:
    small, stick = load_dialect("small-mm"), Stick()
    with pytest.raises(InputError, match="eight"):
        copy_to_stick(
            Program("much-too-long.ngc", "", "small-mm"), small, write=stick.write, read=stick.__getitem__
        )
    with pytest.raises(InputError, match="bytes"):
        copy_to_stick(
            Program("A.NC", "G0 X1\n" * 60_000, "small-mm"), small, write=stick.write, read=stick.__getitem__
        )


TIGHT = 'name = "tight"\ntitle = "t"\nabout = "t"\nextends = "plain-mm"\n[lines]\nmemory = 450\nprogram_number = 12\n'


def test_a_long_plan_is_split_between_cuts() -> None:
    dialect = load_dialect(TIGHT)
    programs = write_parts(washer_plan(), dialect, name="w")
    assert len(programs) > 1
    assert all(len(p.text) <= 450 for p in programs)
    assert sum(len(p.cut_lines) for p in programs) == 4
    for program in programs:
        assert "O12" in program.text.split("\n")
        assert interpret(program.text, dialect).findings == ()
    with pytest.raises(InputError, match="Cut 1 alone"):
        write_parts(washer_plan(), load_dialect(TIGHT.replace("450", "200")), name="w")
    assert len(write_parts(washer_plan(), "plain-mm", name="w")) == 1


def test_resume_starts_at_the_cut_asked_for() -> None:
    plan = washer_plan()
    for first in (1, 2, 4):
        rest = resume(plan, "plain-mm", first_cut=first)
        assert len(rest.cut_lines) == 5 - first
    with pytest.raises(InputError, match="1 to 4"):
        resume(plan, "plain-mm", first_cut=5)
