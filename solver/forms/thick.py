"""What is said of gears that are thicker than their level leaves."""

from __future__ import annotations

from math import isinf

from solver.forms.form import Remark, Sizes


def past_level(sizes: Sizes, where: str, what: str, thick_mm: float, many: bool, hint: str = "") -> tuple[Remark, ...]:
    """A remark where something, told as `what`, does not keep to its level. Where gears are judged as they are made, it
    was judged that it meets nothing there; else it is not known, and hint says what to do. many: of more than one."""
    most = sizes.level_spacing_mm - sizes.clearance_mm
    if thick_mm <= most + 1e-9:
        return ()
    ending, leave = "" if many else "es", f"levels leave {sizes.told(most)}"
    if isinf(sizes.judged_mm):
        told = f"{what} reach{ending} into the next level; {leave}, and what stands there must keep clear in the plane"
        return (Remark(where, told, True),)
    ending = "" if many else "s"
    return (Remark(where, f"{what} meet{ending} the next level; {leave}{hint}", False),)
