"""What a point of a sweep varies, in words."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any


def settings_text(settings: str) -> str:
    """The settings of a point, as JSON in the store, for a reader: "rings.tooth_step = 4, bodies.set = saturn"."""
    return settings_words(json.loads(settings))


def settings_words(settings: Mapping[str, Any]) -> str:
    """The same of settings that have been read."""
    return ", ".join(f"{path} = {plain_value(value)}" for path, value in settings.items())


def plain_value(value: Any) -> str:
    """A value of a design file for a reader: text without its quotes, all else as TOML has it."""
    return value if isinstance(value, str) else _toml(value)


def _toml(value: Any) -> str:
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)} = {_toml(item)}" for key, item in value.items()) + "}"
    return json.dumps(value, ensure_ascii=False)


def _key(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)
