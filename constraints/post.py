"""Rule `post`: the posts of arbors, third gears and rollers touch nothing on the levels that they pass to the plate."""

from __future__ import annotations

from dataclasses import dataclass

from constraints.places import Clearances


@dataclass(frozen=True)
class PostsClear(Clearances):
    """Posts clear the rings; those of two things clear each other and each other's gears, those of rollers too."""

    name = "post"
