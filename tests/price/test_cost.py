"""Costs by hand reckoning and by identity."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from platewright.errors import InputError
from platewright.price.cost import Copy, Job, Rates, cost


def a_job(copies: tuple[Copy, ...], *, plate: float = 1e6, drop: float = 4e5) -> Job:
    return Job(
        copies=copies,
        grade="mild steel",
        thickness=6.0,
        plate_area=plate,
        drop_area=drop,
        plate_cost=None,
        machine_time=900.0,
        arc_time=480.0,
        different_parts=2,
    )


def test_a_job_reckoned_by_hand() -> None:
    """0.2 m2 of parts in 0.6 m2 used of 6 mm steel at 7850 kg/m3: 28.26 kg used, 18.84 kg scrap."""
    made = cost(a_job((Copy("a", 1e5, 240.0, 3), Copy("b", 1e5, 240.0, 5))))
    by_name = {line.name: line.amount for line in made.lines}
    assert by_name["plate"] == D("59.35")  # 28.26 kg x 2.20 - 18.84 kg x 0.15 = 62.172 - 2.826
    assert by_name["machine time"] == D("4.50")  # 900 s at 18 an hour
    assert by_name["consumables"] == D("1.68")  # 8 x 0.06 + 480/3600 x 9
    assert by_name["power and air"] == D("0.19")  # 480/3600 h x 9 kW x 0.16
    assert by_name["set-up"] == D("15.00")
    assert by_name["drawing"] == D("15.00")
    assert by_name["handling"] == D("2.25")
    assert by_name["finishing"] == D("3.00")
    assert by_name["overhead"] == D("10.10")  # a tenth of 100.97
    assert made.total == D("111.07")
    assert made.price == D("149.94")  # x 1.35


def test_design_and_finish_are_lines_of_their_own() -> None:
    """0.2 m2 of parts have 0.4 m2 of faces: 24 a m2 is 9.60; 40 min of design at 45 an hour are 30."""
    job = a_job((Copy("a", 1.5e5, 240.0, 3), Copy("b", 0.5e5, 240.0, 5)))
    plain = cost(job)
    made = cost(job, Rates(design_minutes=D(40), powder_per_m2=D(24)))
    by_name = {line.name: line for line in made.lines}
    assert by_name["design"].amount == D("30.00")
    assert by_name["powder"].amount == D("9.60")
    assert by_name["powder"].shares == (D("7.20"), D("2.40"))
    assert made.total == plain.total + (D("39.60") * D("1.1")).quantize(D("0.01"))
    assert {line.name for line in plain.lines} & {"design", "paint", "powder", "rust"} == set()
    assert (made.rates.finish, plain.rates.finish) == ("powder", "")


copies = st.lists(
    st.tuples(st.floats(100, 1e5), st.floats(0, 600), st.integers(1, 9)), min_size=1, max_size=30
)


@settings(derandomize=True, deadline=None, max_examples=100)
@given(rows=copies)
def test_parts_sum_to_the_job_to_the_cent(rows: list[tuple[float, float, int]]) -> None:
    made = cost(a_job(tuple(Copy(f"p{i}", *row) for i, row in enumerate(rows)), plate=4e6, drop=0.0))
    assert sum(made.by_copy()) == made.total
    assert sum(made.price_by_copy()) == made.price
    assert made.total == made.total.quantize(D("0.01"))


def test_overhead_falls_on_the_pieces_as_their_other_costs_do() -> None:
    made = cost(a_job((Copy("a", 1e5, 240.0, 3), Copy("b", 3e5, 480.0, 9)), drop=2e5))
    *others, overhead = made.lines
    assert overhead.name == "overhead"
    shares = [float(sum(line.shares[i] for line in others)) for i in range(2)]
    assert float(overhead.shares[0] / overhead.shares[1]) == pytest.approx(shares[0] / shares[1], rel=2e-3)


def test_with_neither_markup_nor_margin_the_price_is_the_cost() -> None:
    job = a_job((Copy("a", 1e5, 240.0, 3),))
    made = cost(job, Rates(markup_share=None))
    assert made.price == made.total
    assert cost(job, Rates(markup_share=None, margin_share=D("0.2"))).price == (
        made.total / D("0.8")
    ).quantize(D("0.01"))


def test_a_share_of_a_thousand_per_cent_is_the_most() -> None:
    assert Rates.from_dict({"markup_share": "1000 %"}).markup_share == 10
    with pytest.raises(InputError, match="more than 1000 %"):
        Rates.from_dict({"markup_share": "1001 %"})


def test_the_smallest_bill() -> None:
    cheap = Rates(setup_minutes=D(0), drawing_minutes=D(0))
    assert cost(a_job((Copy("washer", 500.0, 5.0, 1),), plate=600.0, drop=0.0), cheap).price == D("35.00")


def test_markup_and_margin_together_are_refused() -> None:
    with pytest.raises(InputError, match="Both a markup and a margin"):
        Rates(margin_share=D("0.3"))
    assert Rates.from_dict({"margin_share": "0.3"}).markup_share is None


@pytest.mark.parametrize(
    ("document", "text"),
    [
        ({"stel_per_kg": "1"}, "stel_per_kg"),
        ({"steel_per_kg": "-1"}, "0 or more"),
        ({"steel_per_kg": "1 per m2"}, "not said per kg"),
        ({"labour_per_hour": "45 per kg"}, "not said per hour"),
        ({"overhead_share": "10 per kg"}, "not said"),
        ({"markup_share": "35"}, "like 35 %"),
        ({"steel_per_kg": "x"}, "not an amount"),
    ],
)
def test_bad_rates_get_a_sentence(document: dict[str, str], text: str) -> None:
    with pytest.raises(InputError, match=text):
        Rates.from_dict(document)


def test_nothing_to_price() -> None:
    with pytest.raises(InputError, match="nothing"):
        cost(a_job(()))


def test_rates_are_read_as_a_shop_of_either_unit_says_them() -> None:
    rates = Rates.from_dict(
        {"steel_per_kg": "1 per lb", "paint_per_m2": "2.50 / ft2", "markup_share": "35 %"}
    )
    assert rates.steel_per_kg == pytest.approx(D("2.2046226"), abs=D("1e-6"))
    assert rates.paint_per_m2 == pytest.approx(D("26.909776"), abs=D("1e-5"))
    assert rates.markup_share == D("0.35")
    assert Rates.from_dict({"steel_per_kg": "2.20 per kg", "markup_share": "0.35"}) == Rates()


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_the_form_of_the_rates_says_what_would_be_read(unit: str) -> None:
    """Each rate the form shows, typed back as it stands, is the rate that is taken (to the cent the form shows)."""
    from platewright.shop.forms.rates import rates_in

    plain = Rates()
    shown = rates_in(unit)
    assert {r.unit for r in shown} >= ({"per lb", "per ft²"} if unit == "in" else {"per kg", "per m²"})
    for rate in shown:
        read = getattr(Rates.from_dict({rate.name: rate.default}), rate.name)
        meant = getattr(plain, rate.name)
        assert read == meant if isinstance(meant, str) else abs(read - meant) < D("0.012")
        assert rate.label.isprintable()
        assert "_" not in rate.label
