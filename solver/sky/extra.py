"""The packages that the sky needs beside those of the search."""

from __future__ import annotations

from importlib.util import find_spec

from solver.sky.errors import SkyError

_PACKAGES = {"erfa": "pyerfa", "astronomy": "astronomy-engine"}


def need_sky() -> None:
    """Raises SkyError where a library of the extra `sky` is not installed."""
    for library, package in _PACKAGES.items():
        if find_spec(library) is None:
            raise SkyError(f"{package} is not installed; the sky needs it: pip install 'ringwright[sky]'")
