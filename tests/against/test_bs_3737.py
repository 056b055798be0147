"""BS 3737: standard wire gauge."""

from __future__ import annotations

import pytest

from solver.design.gauges import SWG_MM, named_gauge


@pytest.mark.parametrize(("gauge", "mm"), [("10", 3.251), ("12", 2.642), ("14", 2.032), ("16", 1.626)])
def test_swg_is_as_in_the_standard(gauge: str, mm: float) -> None:
    assert named_gauge(f"SWG {gauge}").mm == pytest.approx(mm, abs=0.0005)


def test_swg_gets_thinner_and_begins_at_half_an_inch() -> None:
    sizes = list(SWG_MM.values())
    assert all(thick > thin for thick, thin in zip(sizes, sizes[1:]))
    # From memory: 7/0 is 0.500 in, 1 is 0.300 in, 20 is 0.036 in, 40 is 0.0048 in.
    assert [SWG_MM[n] for n in ("7/0", "1", "20", "40")] == pytest.approx([12.7, 7.62, 0.9144, 0.12192])
    assert set(map(str, range(41))) < set(SWG_MM)
