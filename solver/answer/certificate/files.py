"""The files of a certificate's folder. Light to load: who merely keeps certificates needs no more than their names."""

from __future__ import annotations

from solver.check.certificate.check import CLAIM, MODEL, PROOF

README = "README.txt"
FILES = (CLAIM, MODEL, PROOF, README)
