"""The Chapman estimate: unbiased where theory says that it is, and silent where too little is known."""

from __future__ import annotations

import pytest
from scipy.stats import hypergeom

from mapping import missed
from mapping.missed import missed_flaws


@pytest.mark.parametrize(("there", "first", "second"), [(20, 15, 12), (40, 30, 25), (31, 16, 15)])
def test_the_estimate_and_its_variance_are_unbiased(
    there: int, first: int, second: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Chapman 1951 and Seber 1970: both are exactly unbiased for n1 + n2 >= N, under the hypergeometric law."""
    monkeypatch.setattr(missed, "LEAST_IN_COMMON", 0)
    law = hypergeom(there, first, second)
    common = range(max(0, first + second - there), min(first, second) + 1)
    told = {m: missed_flaws(first, second, m) for m in common}
    mean = sum(law.pmf(m) * each.total for m, each in told.items() if each)
    variance = sum(law.pmf(m) * (each.total - there) ** 2 for m, each in told.items() if each)
    estimated = sum(law.pmf(m) * each.standard_error**2 for m, each in told.items() if each)
    assert mean == pytest.approx(there)
    assert estimated == pytest.approx(variance)


def test_two_sweeps_that_found_the_same_missed_nothing() -> None:
    found = missed_flaws(12, 12, 12)
    assert found is not None
    assert (found.total, found.missed, found.standard_error) == (12, 0, 0)


def test_below_seven_in_common_there_is_no_estimate() -> None:
    assert missed_flaws(30, 30, 6) is None
    assert missed_flaws(30, 30, 7) is not None


@pytest.mark.parametrize(
    ("counts", "said"), [((5, 9, 6), "common is 6"), ((-1, 9, 0), "first is -1"), ((5, 1.5, 0), "second is 1.5")]
)
def test_counts_that_cannot_be_are_refused(counts: tuple[int, int, int], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        missed_flaws(*counts)
