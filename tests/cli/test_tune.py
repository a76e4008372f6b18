"""A coupon from the command line, filled in, read, and planned with: the whole round."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tests.cli.helpers import Shell
from tests.tuning.helpers import made, measured
from tests.tuning.test_beside import job

COUPON = ("tune", "coupon", "--thickness", "6 mm", "--amps", "45 A", "-o", "c")


def fill(path: Path, values: dict[str, str]) -> None:
    text = path.read_text(encoding="utf-8")
    for key, value in values.items():
        text, count = re.subn(rf"(?m)^{key} = \[[^\]]*\]", f"{key} = {value}", text)
        assert count == 1
    path.write_text(text, encoding="utf-8")


def taken(kerf: float) -> dict[str, str]:
    """Return what a caliper says of the coupon cut with a kerf [mm], and a ladder clean from the third to the fifth strip."""
    values = {k: f'["{v[0]:.2f} mm"]' for k, v in measured(made(), kerf).items()}
    words = ("soft", "soft", "none", "none", "none", "hard", "hard", "uncut")
    return values | {f"strip_{n}": f'["{w}"]' for n, w in enumerate(words, 1)}


def test_the_whole_round(shell: Shell) -> None:
    assert shell(*COUPON) == 0
    assert "needs a plate of 425 x 325 mm" in shell.out
    assert "The proof says go" in shell.out
    assert "29 CFR 1910.133" in shell.out
    folder = shell.folder / "c"
    assert {p.name for p in folder.iterdir()} == {
        "coupon.layout.json", "coupon.ngc", "coupon-rehearsal.ngc", "coupon.pdf", "coupon.svg", "coupon.readings.toml",
    }  # fmt: skip
    assert shell("prove", "c/coupon.ngc", "--layout", "c/coupon.layout.json") == 0
    assert shell("burn", "c/coupon.layout.json", "-o", "again.ngc") == 0
    bare = [re.sub(r"\(.*", "", (shell.folder / name).read_text()) for name in ("again.ngc", "c/coupon.ngc")]
    assert bare[0] == bare[1]
    fill(folder / "coupon.readings.toml", taken(1.83))
    assert shell("tune", "read", "c/coupon.readings.toml", "--layout", "c/coupon.layout.json") == 0
    assert "kerf: 1.59 mm -> 1.83 mm" in shell.out
    assert "cut speed: 1500 mm/min -> 1376 mm/min" in shell.out
    assert not (shell.folder / "mine.toml").exists()
    assert shell("tune", "read", "c/coupon.readings.toml", "-o", "mine.toml", "--date", "2026-05-03") == 0
    assert re.search(r"Kerf 1\.83 ± 0\.03 mm from 8 sizes", shell.out)
    assert "Cut speed 1376 mm/min" in shell.out
    chart = (shell.folder / "mine.toml").read_text(encoding="utf-8")
    assert 'name = "mine"' in chart
    assert 'note = "measured 2026-05-03 from coupon.readings.toml; was (computed) kerf 1.59 mm' in chart
    document = shell.document("burn", "c/coupon.layout.json", "--chart", "mine.toml", "-o", "new.ngc")
    assert document["kerf_mm"] == pytest.approx(1.83, abs=0.011)
    assert document["feed_mm_min"] == pytest.approx(1376, abs=1)
    assert "T003" not in [f["code"] for f in document["findings"]]


def test_a_coupon_laid_with_a_job_is_cut_by_one_program_and_read_as_always(shell: Shell) -> None:
    (shell.folder / "job.layout.json").write_text(json.dumps(job().as_dict()), encoding="utf-8")
    assert shell("tune", "coupon", "--with", "job.layout.json", "-o", "w") == 0
    assert "laid with the 4 pieces of the job and cut by the same program" in shell.out
    assert "29 CFR 1910.133" in shell.out
    assert shell("prove", "w/coupon.ngc", "--layout", "w/coupon.layout.json") == 0
    fill(shell.folder / "w" / "coupon.readings.toml", taken(1.83))
    assert shell("tune", "read", "w/coupon.readings.toml", "-o", "mine.toml") == 0
    assert shell("burn", "job.layout.json", "--chart", "mine.toml", "-o", "job.ngc", "--json") == 0
    assert json.loads(shell.out)["kerf_mm"] == pytest.approx(1.83, abs=0.011)
    assert shell("tune", "coupon", "--with", "job.layout.json", "--thickness", "6 mm", "-o", "x") == 2


def test_history_appends_and_a_chart_is_not_run_over(shell: Shell) -> None:
    assert shell(*COUPON) == 0
    path = shell.folder / "c" / "coupon.readings.toml"
    fill(path, taken(1.7))
    assert shell("tune", "read", path, "-o", "mine.toml") == 0
    assert shell("tune", "read", path, "-o", "mine.toml") == 2
    assert (
        "is there already; its rows would be lost. Give it as the chart to correct: --chart mine.toml"
        in shell.err
    )
    assert shell("tune", "read", path, "--chart", "mine.toml", "-o", "mine.toml") == 0
    lines = (shell.folder / "mine.history.jsonl").read_text().splitlines()
    assert [json.loads(line)["thickness_mm"] for line in lines] == [6.0, 6.0]
    assert shell(*COUPON) == 2
    assert "is there already, perhaps filled in" in shell.err


def test_only_telling_writes_nothing(shell: Shell) -> None:
    assert shell(*COUPON) == 0
    path = shell.folder / "c" / "coupon.readings.toml"
    fill(path, {"E": '["79.9 mm"]'})
    before = sorted(shell.folder.rglob("*"))
    document = shell.document("tune", "read", path)
    assert document["kerf"]["mm"] == pytest.approx(1.69, abs=0.001)
    assert {f["code"] for f in document["findings"]} == {"U003", "U023"}
    assert sorted(shell.folder.rglob("*")) == before
    assert shell("tune", "read", path, "-o", "mine.toml") == 0
    assert "Nothing of this is for the chart; it is not written." in shell.out
    assert {p.name for p in shell.folder.iterdir()} == {"c", "mine.history.jsonl"}


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("tune", "coupon", "-o", "c"), "A coupon needs a thickness and a folder."),
        (("tune", "coupon", "--thickness", "thick", "-o", "c"), "--thickness: 'thick' is not a length"),
        (
            (*COUPON, "--square", "20 mm"),
            "A square of 20 mm does not measure a table. Allowed: 100 to 3000 mm.",
        ),
        (("tune", "read"), "There is no readings file to read."),
        (("tune", "read", "none.toml"), "There is no file 'none.toml'."),
    ],
)
def test_bad_words(words: tuple[str, ...], sentence: str, shell: Shell) -> None:
    assert shell(*words) == 2
    assert sentence in shell.err


def test_out_of_the_charts_reach_is_refused_and_nothing_written(shell: Shell) -> None:
    assert shell("tune", "coupon", "--thickness", "18 mm", "--amps", "45 A", "-o", "c") == 1
    assert "18 mm lies outside it" in shell.err
    assert not (shell.folder / "c").exists()
