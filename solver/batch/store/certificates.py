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
from solver.design.design import Design


@dataclass(frozen=True)
class KeptCertificate:
    """A certificate that is kept. folder: where; claim: its words; decides: whether it leaves no train that is better
    by its teeth than the best one. It was checked when it was written, not now."""

    folder: Path
    claim: str
    decides: bool

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
    decides = claim.get("better") == [] and claim.get("best_is_worse") is False
    return KeptCertificate(folder, claim["claim"], decides)


def certified(kept: KeptCertificate | None, design: Design) -> bool | None:
    """Whether the certificate that is kept tells of what is first, as `standing` asks: the order of the answer begins
    with the error, and teeth alone decide which is the least; None where none is kept."""
    return None if kept is None else kept.decides and design.rank[0] == "error"
