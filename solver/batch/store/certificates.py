"""Certificates that are kept beside what was stored: in the folder `certificate` of a run, of a sweep's point in the
folder `certificates/POINT`. The record of a run and its hashes say nothing of them: a certificate is checked by itself,
and counts for a design only if it names that design's hash."""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import dataclass
from pathlib import Path

from solver.answer.certificate.files import FILES
from solver.check.certificate.check import CLAIM, MOST_CLAIM


@dataclass(frozen=True)
class KeptCertificate:
    """A certificate that is kept. folder: where; claim: its words. It was checked when it was written, not now."""

    folder: Path
    claim: str

    def zipped(self) -> bytes:
        """Its files as a zip. Raises OSError."""
        buffer = io.BytesIO()
        with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as packed:
            for name in FILES:
                packed.write(self.folder / name, f"certificate/{name}")
        return buffer.getvalue()


def certificate_folder(stored: Path, point: str = "") -> Path:
    """Where the certificate of a run belongs, or of a point of a sweep."""
    return stored / "certificates" / point if point else stored / "certificate"


def certificates_stamp(stored: Path) -> int:
    """Another number whenever the certificates of a sweep's points have changed; 0 where there are none."""
    try:
        return (stored / "certificates").stat().st_mtime_ns
    except OSError:
        return 0


def kept_certificate(stored: Path, design_sha256: str, point: str = "") -> KeptCertificate | None:
    """The certificate that is kept of a design; None where there is none, or one that cannot be read or is of another
    design."""
    folder = certificate_folder(stored, point)
    try:
        if not all((folder / name).is_file() for name in FILES) or (folder / CLAIM).stat().st_size > MOST_CLAIM:
            return None
        claim = json.loads((folder / CLAIM).read_text(encoding="utf-8"))
        if claim["design_sha256"] != design_sha256 or not isinstance(claim["claim"], str):
            return None
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return None
    return KeptCertificate(folder, claim["claim"])
