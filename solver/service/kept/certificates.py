"""Certificates that are kept with the points of a job, as `ringwright prove FOLDER --certify` writes them."""

from __future__ import annotations

from solver.batch.store.certificates import KeptCertificate, certificate_folder, kept_certificate
from solver.files.load import parse_design
from solver.service.kept.results import Results


def certificate_of(results: Results, point: str) -> KeptCertificate | None:
    """The certificate of a point, by its whole name; None where none is kept that is of its design. Raises KeyError
    where there is no such point."""
    folder = results.folder
    if not certificate_folder(folder, point).is_dir():  # most have none: no design is read for these
        return None
    return kept_certificate(folder, parse_design(results.design_text(point), "").sha256(), point)


def certificates_in(results: Results) -> dict[str, KeptCertificate]:
    """By point, those of a job, in the order of its points."""
    if not certificate_folder(results.folder, "x").parent.is_dir():
        return {}
    found = ((one["point"], certificate_of(results, one["point"])) for one in results.points)
    return {point: certificate for point, certificate in found if certificate is not None}
