"""What cannot be said of the sky."""

from __future__ import annotations


class SkyError(ValueError):
    """A date, a body or a source that will not do: shown in one line, exit code 2."""
