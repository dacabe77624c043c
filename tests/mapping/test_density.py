"""Density: exact Poisson limits against published tables and reference libraries, and the contract line."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.rates import confint_poisson

from mapping.density import (
    ContractLimit,
    chance_of_no_flaw,
    density,
    exact_area,
    judge_contract,
    judge_density,
    poisson_interval,
    poisson_one_sided,
)

ONE_PER_100 = ContractLimit(1, 100, "m2")


@pytest.mark.parametrize(
    ("count", "low", "high"),
    # Garwood, Biometrika 28 (1936), table of 95 % limits, commonly reprinted; values from memory.
    [
        (0, 0, 3.69),
        (1, 0.0253, 5.57),
        (2, 0.242, 7.22),
        (5, 1.62, 11.67),
        (10, 4.80, 18.39),
        (20, 12.22, 30.89),
        (50, 37.11, 65.92),
    ],
)
def test_interval_matches_the_published_table(count: int, low: float, high: float) -> None:
    found = poisson_interval(count)
    assert found.low == pytest.approx(low, rel=0.005)
    assert found.high == pytest.approx(high, rel=0.001)


@given(st.integers(1, 100_000), st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_interval_matches_the_chi_square_quantiles_of_scipy(count: int, confidence: float) -> None:
    tail = (1 - confidence) / 2
    expected = (stats.chi2.ppf(tail, 2 * count) / 2, stats.chi2.ppf(1 - tail, 2 * count + 2) / 2)
    assert poisson_interval(count, confidence) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("count", [0, 1, 3, 17, 250])
def test_density_matches_the_exact_method_of_statsmodels(count: int) -> None:
    found = density(count, 412.5)
    assert found is not None
    assert found.interval_per_m2 == pytest.approx(confint_poisson(count, 412.5, method="exact-c"), rel=1e-9, abs=1e-12)


def test_one_sided_limits_put_the_whole_doubt_on_one_side() -> None:
    low, high = poisson_one_sided(3)
    # The rule of three, made exact: 95 % upper limit of no event is -ln 0.05.
    assert poisson_one_sided(0).high == pytest.approx(2.9957, abs=1e-4)
    assert stats.poisson.sf(2, low) == pytest.approx(0.05)
    assert stats.poisson.cdf(3, high) == pytest.approx(0.05)


def test_density_is_said_per_100_m2_and_per_1000_ft2() -> None:
    found = density(3, 150)
    assert found is not None
    assert found.per_100_m2 == pytest.approx(2)
    assert found.per_1000_ft2 == pytest.approx(3 / (150 / 92.90304))


def test_there_is_no_density_on_no_area() -> None:
    assert density(0, 0) is None


def test_flaws_on_no_area_are_refused() -> None:
    with pytest.raises(ValueError, match="count is 2 on an area of 0 m2"):
        density(2, 0)


@pytest.mark.parametrize(("count", "verdict"), [(4, "kept"), (5, "exceeded")])
def test_contract_takes_the_allowed_count_down_to_a_whole_number(count: int, verdict: str) -> None:
    found = judge_contract(ONE_PER_100, count, 412.3)
    assert (found.verdict, found.allowed) == (verdict, 4)


@pytest.mark.parametrize(("rule", "allowed"), [("floor", 4), ("nearest", 5), ("ceiling", 5)])
def test_contract_follows_the_integer_rule_of_the_specification(rule: str, allowed: int) -> None:
    limit = ContractLimit(1, 100, "m2", rule)  # type: ignore[arg-type]
    assert judge_contract(limit, 0, 450).allowed == allowed


def test_contract_says_its_arithmetic() -> None:
    assert judge_contract(ONE_PER_100, 5, 412.3).arithmetic == (
        "1 × 412.3000 m² / 100 m² = 4.1230, rounded down: 4 allowed, 5 found"
    )


def test_contract_has_no_verdict_while_nothing_is_tested() -> None:
    found = judge_contract(ONE_PER_100, 0, 0)
    assert (found.verdict, found.allowed) == (None, None)


def test_what_floating_point_takes_from_a_whole_area_does_not_cost_a_flaw() -> None:
    assert judge_contract(ONE_PER_100, 3, 0.1 * 3 * 1000 - 1e-9).allowed == 3
    # 1000 ft2 = 92.90304 m2 exactly (international foot).
    assert judge_contract(ContractLimit(1, 1000, "ft2"), 1, 92.90304).allowed == 1


@given(st.integers(0, 50), st.integers(1, 10**7), st.sampled_from([1, 10, 100, 1000]))
def test_contract_is_exact_on_areas_of_whole_steps(count: int, steps: int, per: int) -> None:
    limit = ContractLimit(Decimal("0.7"), per, "m2")
    expected = (7 * steps) // (10 * per * 10_000)
    assert judge_contract(limit, count, steps / 10_000).allowed == expected


def test_area_is_rounded_in_the_unit_of_the_limit() -> None:
    assert exact_area(9.290304, "ft2") == 100
    assert exact_area(0.00005, "m2") == Fraction(1, 10_000)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ((-1, 100, "m2"), "count is -1"),
        ((1, 0, "m2"), "per is 0"),
        ((1, 100, "yd2"), "unit is 'yd2'; it must be m2 or ft2"),
        ((1, 100, "m2", "bankers"), "integer_rule is 'bankers'"),
    ],
)
def test_a_limit_that_cannot_be_is_refused_by_name(given: tuple[object, ...], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        ContractLimit(*given)  # type: ignore[arg-type]


def test_a_clean_sample_demonstrates_the_limit_once_it_is_large_enough() -> None:
    # Two-sided 95 % upper bound of no flaw is -ln 0.025 = 3.6889.
    small = judge_density(0, 300, ONE_PER_100, left_m2=100)
    assert small is not None
    assert small.verdict == "not demonstrated yet"
    assert small.further_m2 == pytest.approx(68.888, abs=0.001)
    assert small.settled_by_what_is_left is True
    assert small.sentence == ("1 per 100 m² is not demonstrated yet: 68.9 m² more without a flaw would settle it.")
    large = judge_density(0, 368.89, ONE_PER_100, left_m2=0)
    assert large is not None
    assert large.verdict == "demonstrated"


def test_a_limit_is_exceeded_when_the_lower_bound_is_above_it() -> None:
    found = judge_density(10, 400, ONE_PER_100, left_m2=0)
    assert found is not None
    assert found.verdict == "exceeded"
    assert found.bounds_per_m2.low == pytest.approx(4.795 / 400, rel=1e-3)


def test_it_is_said_when_what_is_left_cannot_settle_it() -> None:
    found = judge_density(3, 300, ONE_PER_100, left_m2=112)
    assert found is not None
    assert found.settled_by_what_is_left is False
    assert found.sentence.endswith("it cannot be settled by what is left.")


def test_no_area_demonstrates_a_limit_of_none() -> None:
    found = judge_density(0, 300, ContractLimit(0, 100, "m2"), left_m2=100)
    assert found is not None
    assert (found.verdict, found.further_m2) == ("not demonstrated yet", inf)


def test_one_sided_bounds_settle_earlier() -> None:
    found = judge_density(0, 300, ONE_PER_100, left_m2=0, sides="one-sided")
    assert found is not None
    assert found.verdict == "demonstrated"


def test_nothing_tested_decides_nothing() -> None:
    assert judge_density(0, 0, ONE_PER_100, left_m2=100) is None


@given(st.integers(0, 30), st.floats(1, 1000))
def test_the_further_clean_area_is_just_what_settles_it(count: int, area: float) -> None:
    found = judge_density(count, area, ONE_PER_100, left_m2=1e6)
    assert found is not None
    if found.further_m2 is not None:
        settled = judge_density(count, area + found.further_m2 * (1 + 1e-9) + 1e-9, ONE_PER_100, left_m2=0)
        short = judge_density(count, area + found.further_m2 * 0.99, ONE_PER_100, left_m2=0)
        assert settled is not None
        assert short is not None
        assert (settled.verdict, short.verdict) == ("demonstrated", "not demonstrated yet")


@given(st.integers(0, 100), st.floats(1, 1000), st.floats(0, 1000))
def test_the_chance_of_no_flaw_is_the_predictive_distribution_of_jeffreys_prior(
    count: int, swept: float, unswept: float
) -> None:
    # Poisson with gamma(n + 1/2, A) predicts a negative binomial; scipy's is the reference.
    expected = stats.nbinom.pmf(0, count + 0.5, swept / (swept + unswept))
    assert chance_of_no_flaw(count, swept, unswept) == pytest.approx(float(expected), rel=1e-9)


def test_nothing_is_predicted_from_nothing_swept() -> None:
    assert chance_of_no_flaw(0, 0, 100) is None
