"""What a point of a sweep varies, in words."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any


def settings_text(settings: str) -> str:
    """The settings of a point, as JSON in the store, for a reader: "rings.tooth_step = 4, bodies.set = saturn"."""
    return settings_words(json.loads(settings))


def settings_words(settings: Mapping[str, Any]) -> str:
    """The same of settings that have been read."""
    return ", ".join(f"{path} = {plain_value(value)}" for path, value in settings.items())


def plain_value(value: Any) -> str:
    """A value of a design file for a reader, lists as words with spaces."""
    if isinstance(value, list):
        return " ".join(plain_value(item) for item in value)
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
