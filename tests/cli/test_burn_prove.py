"""From layout to program, proof, paper and price by the command line; a spoiled program is caught."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from platewright.cli.common import found_lines
from platewright.findings import finding
from platewright.program.dialects import dialect_names, load_dialect
from tests.cli.helpers import Shell, save_part


@pytest.fixture
def job(shell: Shell) -> Shell:
    """A 300 x 200 drop with two tags and their other hands laid on it, and the program for it."""
    save_part(Path("tag.part.json"), width=90, height=50, hole=8)
    assert shell("stock", "drop", "--size", "300 x 200 mm", "--thickness", "6 mm", "-o", "d.plate.json") == 0
    assert shell("lay", "d.plate.json", "tag.part.json:1:pairs", "--steps", "0", "-o", "l.layout.json") == 0
    assert (
        shell(
            "burn",
            "l.layout.json",
            "--amps",
            "45 A",
            "-o",
            "l.ngc",
            "--rehearsal",
            "r.ngc",
            "--svg",
            "l.svg",
            "--why",
        )
        == 0
    ), shell.err
    return shell


def test_the_program_is_text_the_table_runs(job: Shell) -> None:
    assert "4 cuts" in job.out
    assert "starting point" in job.out
    text = Path("l.ngc").read_text()
    assert re.search(r"G0?[23] ", text)
    assert text.count("M3") == 4
    assert "M3" not in Path("r.ngc").read_text()
    assert Path("l.svg").read_text().startswith("<svg")


def test_the_proof_says_go_and_the_pieces_are_true(job: Shell) -> None:
    assert (
        job(
            "prove",
            "l.ngc",
            "--layout",
            "l.layout.json",
            "--amps",
            "45 A",
            "--svg",
            "p.svg",
            "--report",
            "p.json",
        )
        == 0
    )
    report = json.loads(Path("p.json").read_text())
    assert report["verdict"] in ("go", "look")
    worst = [d["max_mm"] for piece in report["pieces"] for d in piece["deviations"]]
    assert len(worst) == 4
    assert max(worst) < 0.05


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda text: text.replace("G21", "G20"), []),  # 25.4 times too large
        (lambda text: re.sub(r"(?m)^.*M5.*\n", "", text), []),  # the torch is never switched off
        (lambda text: text, ["--kerf", "4 mm"]),  # set up for another kerf
    ],
)
def test_a_spoiled_program_stops_the_job(job: Shell, spoil, words: list[str]) -> None:  # type: ignore[no-untyped-def]
    Path("bad.ngc").write_text(spoil(Path("l.ngc").read_text()))
    assert job("prove", "bad.ngc", "--layout", "l.layout.json", *(words or ["--amps", "45 A"])) == 1
    assert "stop" in job.out.lower()


def test_a_program_from_elsewhere_against_a_drawing(job: Shell) -> None:
    assert job(
        "prove",
        "l.ngc",
        "--plate",
        "d.plate.json",
        "--kerf",
        "1.5 mm",
        "--against",
        "tag.part.json",
        "--json",
    ) in (0, 1)
    pieces = json.loads(job.out)["pieces"]
    assert sum(p["name"].startswith("tag #") for p in pieces) == 2


def test_a_program_comes_back_as_a_part(job: Shell) -> None:
    assert job("read", "l.ngc", "--program", "plain-mm", "--thickness", "6 mm", "-o", "back") == 0
    assert Path("back-1.part.json").exists()
    assert Path("back-2.part.json").exists()


def test_recovering_from_a_lost_arc(job: Shell) -> None:
    assert job("burn", "l.layout.json", "--amps", "45 A", "-o", "rest.ngc", "--from-cut", "3") == 0
    assert Path("rest.ngc").read_text().count("M3") == 2
    assert job("burn", "l.layout.json", "--amps", "45 A", "-o", "rest.ngc", "--from-cut", "9") == 2


def test_paper_and_price(job: Shell) -> None:
    for kind, files in (
        ("traveler", ["l.layout.json", "l.ngc"]),
        ("full-size", ["tag.part.json"]),
        ("drawing", ["tag.part.json"]),
        ("labels", ["tag.part.json", "d.plate.json"]),
        ("cards", []),
    ):
        assert job("paper", kind, *files, "-o", f"{kind}.pdf") == 0, job.err
        assert Path(f"{kind}.pdf").read_bytes().startswith(b"%PDF")
    made = job.document("price", "l.layout.json", "--amps", "45 A")
    assert sum(float(c["cost"]) for c in made["copies"]) == pytest.approx(float(made["total"]), abs=1e-9)
    Path("rates.toml").write_text('steel_per_kg = "9.99"\n')
    dearer = job.document("price", "l.layout.json", "--amps", "45 A", "--rates", "rates.toml")
    assert float(dearer["total"]) > float(made["total"])


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (["burn", "l.layout.json", "--amps", "7 A", "-o", "x.ngc"], "20 to 125 A"),
        (["burn", "l.layout.json", "--table", "mill", "-o", "x.ngc"], "small gantry"),
        (["burn", "l.layout.json", "--dialect", "runes", "-o", "x.ngc"], "plain-mm"),
        (["burn", "l.layout.json", "--chart", "none.toml", "-o", "x.ngc"], "no file"),
        (["prove", "l.ngc"], "Neither a plate nor a kerf"),
        (["prove", "l.ngc", "--layout", "l.layout.json", "--plate", "d.plate.json"], "not both"),
        (["prove", "l.ngc", "--plate", "d.plate.json", "--kerf", "0 mm"], "above 0"),
        (["paper", "traveler", "l.layout.json", "-o", "t.pdf"], "layout and its program"),
        (["paper", "full-size", "tag.part.json", "--bars", "3 in", "100 mm", "-o", "t.pdf"], "80 to 120 mm"),
        (["price"], "no layout"),
    ],
)
def test_bad_input_gets_a_sentence(words: list[str], text: str, job: Shell) -> None:
    assert job(*words) == 2
    assert text in job.err


def test_a_quote_goes_its_way(job: Shell) -> None:
    assert (
        job(
            "price",
            "l.layout.json",
            "--amps",
            "45 A",
            "--quote",
            "q.pdf",
            "--customer",
            "West farm",
            "--letterhead",
            "Fern Hollow Steel",
            "--job",
            "gate",
            "--tax",
            "8 %",
            "--shop",
            "shop",
        )
        == 0
    ), job.err
    assert "issued Q0001" in job.out
    assert Path("q.pdf").read_bytes().startswith(b"%PDF")
    for state in ("accepted", "made", "delivered", "paid"):
        assert job("price", "--shop", "shop", "--move", "Q0001", state) == 0
    assert job("price", "--shop", "shop", "--move", "Q0001", "void") == 1
    made = job.document("price", "--shop", "shop", "--ledger", "--csv", "l.csv", "--investment", "10")
    assert made["documents"][0]["state"] == "paid"
    assert made["payback"]["left"] == "0"
    assert "Q0001" in Path("l.csv").read_text()
    assert job("price", "--ledger") == 2
    assert "--shop" in job.err


def test_a_quote_takes_what_the_shop_has_settled(job: Shell) -> None:
    from platewright.shop.folder.store import Shop

    values = {"name": "Fern Hollow Steel", "tax": "8 %", "terms": "Cash.", "rates": {"steel_per_kg": "9.99"}}
    with Shop(Path("own")) as shop:
        shop.save("settings", "shop", values, note="settled")
    plain = job.document("price", "l.layout.json", "--amps", "45 A")
    requested = ["price", "l.layout.json", "--amps", "45 A", "--shop", "own"]
    made = job.document(*requested, "--quote", "q.pdf", "--customer", "West farm")
    assert float(made["price"]) > float(plain["price"])  # the shop's dearer steel
    issued = job.document("price", "--shop", "own", "--ledger")["documents"][0]
    assert float(issued["total"]) == pytest.approx(1.08 * float(made["price"]), abs=0.02)
    assert job(*requested, "--quote", "q.pdf", "--customer", "West farm", "--tax", "120 %") == 2
    assert "0 % up to 100 %" in job.err


def test_a_program_that_starts_again_is_proven_with_what_was_burned(job: Shell) -> None:
    assert job("burn", "l.layout.json", "--amps", "45 A", "-o", "rest.ngc", "--from-cut", "3") == 0
    assert job("prove", "rest.ngc", "--layout", "l.layout.json", "--amps", "45 A") == 1
    assert (
        job("prove", "rest.ngc", "--layout", "l.layout.json", "--amps", "45 A", "--burned", "l.ngc", "2") == 0
    ), job.out
    assert job("prove", "rest.ngc", "--layout", "l.layout.json", "--burned", "l.ngc", "two") == 2


def test_choices_said_on_the_command_line_are_proven_as_wishes(job: Shell) -> None:
    chosen = ("--option", "skeleton=160 mm", "--option", "mark_below=17 mm", "--option", "dimple=yes")
    assert job("burn", "l.layout.json", "--amps", "45 A", "-o", "c.ngc", "--why", *chosen) == 0, job.err
    assert "the rest of the plate" in job.out
    assert "does not get through" in job.out
    assert "(common practice)" in job.out
    sentences = ("prove", "c.ngc", "--layout", "l.layout.json", "--amps", "45 A")
    assert job(*sentences, *chosen) == 0, job.out
    assert job(*sentences) == 1
    assert "STOP" in job.out


def test_a_lost_cut_is_taken_up_and_proven_from_where_it_was_lost(job: Shell) -> None:
    whole = job.document("burn", "l.layout.json", "--amps", "45 A", "-o", "l.ngc")
    last = len(whole["cuts"])
    x, y = whole["cuts"][-1]["pierce_mm"]
    rest = ["burn", "l.layout.json", "--amps", "45 A", "-o", "rest.ngc", "--from-cut", str(last)]
    prove = [
        "prove",
        "rest.ngc",
        "--layout",
        "l.layout.json",
        "--amps",
        "45 A",
        "--burned",
        "l.ngc",
        str(last - 1),
    ]
    tags = job.document("prove", "l.ngc", "--layout", "l.layout.json", "--amps", "45 A")["pieces"]
    outer = next(p["outer_mm"] for p in tags if p["loose_after_cut"] == last)
    # the place across from the pierce is about half way round
    far = max(outer, key=lambda p: (p[0] - x) ** 2 + (p[1] - y) ** 2)
    spot = f"{far[0]}, {far[1]} mm"
    assert job(*rest, "--lost-at", spot) == 0, job.err
    assert job(*prove, "--lost-at", spot) == 0, job.out
    assert job(*prove, "--lost-at", f"{x}, {y} mm") == 1  # lost at once: what lies between is not cut
    assert job(*rest, "--lost-at", "there") == 2


def test_a_copy_to_the_stick_is_read_back(job: Shell) -> None:
    Path("stick").mkdir()
    assert job("burn", "l.layout.json", "--amps", "45 A", "-o", "l.ngc", "--stick", "stick") == 0
    assert "read back and the same" in job.out
    assert Path("stick/l.ngc").read_bytes() == Path("l.ngc").read_bytes()
    assert job("burn", "l.layout.json", "--amps", "45 A", "-o", "l.ngc", "--stick", "none") == 2


def test_a_small_memory_gets_several_files(job: Shell) -> None:
    assert (
        job(
            "burn",
            "l.layout.json",
            "--amps",
            "45 A",
            "-o",
            "l.ngc",
            "--dialect",
            "small-mm",
            "--split",
            "--json",
        )
        == 0
    )
    assert len(json.loads(job.out)["files"]) >= 1


def test_more_sets_are_laid_planned_and_cheaper_each(job: Shell) -> None:
    made = job.document("price", "l.layout.json", "--amps", "45 A", "--quantities", "1,2,4")
    rows = made["quantities"]
    assert [r["sets"] for r in rows] == [1, 2, 4]
    each = [float(r["each"]) for r in rows]
    assert each[0] > each[1] > each[2]
    assert float(rows[2]["cost"]) < 4 * float(rows[0]["cost"])
    assert job("price", "l.layout.json", "--quantities", "few") == 2


def test_the_traveler_says_what_the_proof_of_its_own_program_says(job: Shell) -> None:
    assert job("paper", "traveler", "l.layout.json", "l.ngc", "-o", "t.pdf") == 0, job.err
    assert "says go" in job.out or "says look" in job.out
    Path("bad.ngc").write_text(Path("l.ngc").read_text().replace("G21", "G20"))
    assert job("paper", "traveler", "l.layout.json", "bad.ngc", "-o", "t.pdf") == 1
    assert "says stop" in job.out


def test_later_steps_take_the_amperage_from_the_program(job: Shell) -> None:
    """The job was planned at 45 A; without --amps the chart's best row would be another."""
    assert job("prove", "l.ngc", "--layout", "l.layout.json", "--report", "p.json") == 0
    report = json.loads(Path("p.json").read_text())
    assert max(d["max_mm"] for piece in report["pieces"] for d in piece["deviations"]) < 0.05
    assert job("price", "l.layout.json", "--program", "l.ngc") == 0
    assert "at 45 A" in job.out


def test_a_program_is_shown(job: Shell) -> None:
    assert job("show", "l.ngc") == 0, job.out + job.err
    assert "4 pierces" in job.out


def test_swapped_files_are_reported(job: Shell) -> None:
    assert job("prove", "l.layout.json", "--layout", "l.ngc") == 2
    assert "looks like program text" in job.err


def test_rates_are_measured_from_bills(shell: Shell) -> None:
    Path("bills.csv").write_text("rate,amount,quantity\nsteel_per_kg,412.50,187.5\n")
    assert (
        shell(
            "price",
            "--measure",
            "bills.csv",
            "--machine",
            "investment=9000 life_years=10 hours_per_year=1000",
        )
        == 0
    )
    assert shell.out.splitlines() == ['steel_per_kg = "2.2000"', 'machine_per_hour = "1.80"']
    assert shell("price", "--machine", "investment=9000") == 2
    assert "life_years" in shell.err


def test_a_program_in_the_wrong_unit_is_reported_so_first_even_if_it_cannot_be_read_to_the_end(
    job: Shell,
) -> None:
    Path("inch.ngc").write_text(Path("l.ngc").read_text().replace("G21", "G20"))
    job("prove", "inch.ngc", "--layout", "l.layout.json")
    first = job.out.split("What to look at")[1].split("\n  2.")[0]
    assert "the units are wrong" in first
    assert "asked for and not cut" not in job.out


def test_a_finding_names_its_subject_once() -> None:
    """In its sentence, or before it where the sentence does not say it."""
    own = finding("S003", subject="drop 7", grade="stainless", caution="It fumes.", source="a sheet")
    other = finding("A013", subject="drop 8", distance=9.0, least=26.0, bolt="M20", source="a table")
    assert sorted(line.count("drop") for line in found_lines([own, other])) == [1, 1]


def test_a_document_where_a_program_is_wanted_is_reported(job: Shell) -> None:
    assert job("prove", "l.layout.json", "--layout", "l.layout.json") == 2
    assert "l.layout.json: This is a document, not a program. Were two files swapped?" in job.err
    assert job("burn", "d.plate.json", "-o", "x.ngc") == 2
    assert "d.plate.json: This is a plate, not a layout." in job.err


@pytest.mark.parametrize("dialect", dialect_names())
@pytest.mark.parametrize("amps", ["", "45 A"])
def test_the_proof_takes_the_row_the_plan_took(job: Shell, dialect: str, amps: str) -> None:
    """Without --amps the plan took 30 A for what its table keeps with ease, the proof the chart's most; or no heading was read."""
    said = ["--amps", amps] if amps else []
    made = job.document("burn", "l.layout.json", "-o", "a.ngc", "--dialect", dialect, *said)
    headed = load_dialect(dialect).comment != "none"
    again = [] if headed else said  # a text without comments cannot say what it was planned for
    proof = job.document("prove", "a.ngc", "--layout", "l.layout.json", "--dialect", dialect, *again)
    assert proof["kerf_mm"] == pytest.approx(made["kerf_mm"], abs=1e-9)


def test_an_amperage_written_on_the_layout_holds_for_the_proof_too(job: Shell) -> None:
    layout = json.loads(Path("l.layout.json").read_text())
    Path("b.layout.json").write_text(json.dumps(layout | {"burn": {"amperage": 30.0}}))
    made = job.document("burn", "b.layout.json", "-o", "b.ngc", "--dialect", "small-mm")
    proof = job.document("prove", "b.ngc", "--layout", "b.layout.json", "--dialect", "small-mm")
    assert made["kerf_mm"] == pytest.approx(1.37, abs=0.01)
    assert proof["kerf_mm"] == pytest.approx(made["kerf_mm"], abs=1e-9)


def test_choices_about_the_burn_are_said_on_the_command_line(job: Shell) -> None:
    job("burn", "l.layout.json", "-o", "p.ngc", "--option", "post_flow=5 s", "--option", "lead_length=1/4 in")
    assert Path("p.ngc").read_text().count("G4 P5\n") == 4
    assert job("burn", "l.layout.json", "-o", "p.ngc", "--option", "post_flow=900 s") == 2
    assert "--option.post_flow" in job.err
    assert job("burn", "l.layout.json", "-o", "p.ngc", "--option", "pause") == 2
    assert "pause_duty=yes" in job.err
