"""What is proven of a setting by teeth, in words."""

from __future__ import annotations

from solver.sky.setting import First, TeethSetting
from solver.words.numbers import decimal

_WHERE: dict[First, str] = {
    "off": "ring 0 may stand off as well",
    "in": "with ring 0 in its place",
    "left": "with ring 0 left where it stands",
}


def found_text(setting: TeethSetting, unit: str, worst: str = "") -> str:
    """The claim of a setting, with where ring 0 may be for it. unit: what is written after a number of degrees; worst:
    the name of the body that is off by most, to be told too."""
    if not setting.worst:
        return "by these teeth every body can stand exactly in its place"
    left, total = (f"{decimal(float(turns * 360), 4)}{unit}" for turns in (setting.worst, setting.total))
    named, where = f" ({worst})" if worst else "", _WHERE[setting.first]
    if setting.proven == "no":
        return (
            f"not proven best ({where}): the search was stopped by its work limit; the best way to mesh these gears "
            f"that was found leaves a body {left} from its place{named}, and {total} in all"
        )
    claim = f"proven ({where}): no way to mesh these gears leaves every body less than {left} from its place{named}"
    if setting.proven == "worst":
        return f"{claim}; {total} in all is not proven least, as the search for that was stopped by its work limit"
    return f"{claim}, and none that leaves no more than that has less than {total} in all"
