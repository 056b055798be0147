"""ASTM B258: American wire gauge."""

from __future__ import annotations

import pytest

from solver.design.gauges import awg_mm, named_gauge


@pytest.mark.parametrize(
    ("gauge", "mm"),
    # Nominal diameters as the standard's table prints them in mils (memory): 4/0 460, 0 324.9, 10 101.9,
    # 14 64.1, 16 50.8, 18 40.3, 20 32.0, 24 20.1, 36 5.0.
    [
        ("AWG 4/0", 460.0), ("AWG 0", 324.9), ("AWG 10", 101.9), ("AWG 14", 64.1), ("AWG 16", 50.8), ("AWG 18", 40.3),
        ("AWG 20", 32.0), ("AWG 24", 20.1), ("AWG 36", 5.0),
    ],
)  # fmt: skip
def test_awg_is_as_in_the_standard(gauge: str, mm: float) -> None:
    assert named_gauge(gauge).mm == pytest.approx(mm * 0.0254, abs=0.06 * 0.0254)


def test_awg_is_defined_by_two_gauges_and_a_ratio() -> None:
    # 36 is 0.0050 in, 4/0 is 0.4600 in, 39 equal ratios between them.
    assert awg_mm(36) == pytest.approx(0.005 * 25.4, rel=1e-12)
    assert awg_mm(-3) == pytest.approx(0.46 * 25.4, rel=1e-12)
    steps = [awg_mm(n) / awg_mm(n + 1) for n in range(-3, 40)]
    assert max(steps) - min(steps) < 1e-12
    assert named_gauge("awg 0000") == named_gauge("AWG 4/0")
