"""The token that a service on another address asks for: read from a file or the environment, compared in constant time,
never shown."""

from __future__ import annotations

import hmac
import os
from hashlib import sha256
from pathlib import Path

from solver.files.text import read_bytes
from solver.service.errors import ServiceError

VARIABLE = "RINGWRIGHT_TOKEN"
COOKIE = "ringwright"
LEAST = 16
MOST_BYTES = 4096  # of the file


class Token:
    """A secret. Neither it nor a hash of it appears in its text form."""

    def __init__(self, secret: str, source: str) -> None:
        """Raises ServiceError, which names the source alone, where it is too short to be one."""
        if len(secret) < LEAST or not secret.isascii() or not secret.isprintable() or " " in secret:
            raise ServiceError(f"{source}: a token has at least {LEAST} characters, letters, digits and signs alone")
        self._secret = secret.encode()

    def is_right(self, told: str) -> bool:
        return hmac.compare_digest(self._secret, told.encode("utf-8", "surrogateescape"))

    @property
    def cookie(self) -> str:
        """What a browser keeps instead of the token: it proves that the token was known, and tells nothing of it."""
        return hmac.digest(self._secret, b"ringwright page", sha256).hex()

    def is_right_cookie(self, told: str) -> bool:
        return hmac.compare_digest(self.cookie.encode(), told.encode("utf-8", "surrogateescape"))


def token_of(file: Path | None) -> Token | None:
    """The token in that file, or in the environment variable RINGWRIGHT_TOKEN; None where neither is given. Raises
    ServiceError."""
    if file is not None:
        told = f"--token-file {file}"
        try:
            read = read_bytes(file, MOST_BYTES + 1)
        except OSError as fault:
            raise ServiceError(f"{told}: {fault.strerror}") from None
        if len(read) > MOST_BYTES:
            raise ServiceError(f"{told}: longer than {MOST_BYTES} bytes")
        return Token(read.decode("utf-8", "replace").strip(), told)
    secret = os.environ.pop(VARIABLE, None)  # no runner needs to inherit it
    return None if secret is None else Token(secret.strip(), VARIABLE)
