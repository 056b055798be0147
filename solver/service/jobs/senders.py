"""Who sends jobs: told apart by address, so that they can take turns. No address is stored: each has a number."""

from __future__ import annotations

import ipaddress
from collections import OrderedDict
from typing import Any

_KEPT = 10_000


def sender_of(request: Any) -> str:
    """The address that a request (of Starlette) came from: the connection's, or what a trusted proxy says of it."""
    return "" if request.client is None else str(request.client.host)


class Senders:
    """Numbers for addresses, one for each. Not thread-safe."""

    def __init__(self) -> None:
        self._next = 1
        self._numbers: OrderedDict[str, int] = OrderedDict()

    def begin(self, number: int) -> None:
        """The first number that is given: those before were given before this process was."""
        self._next = number

    def number(self, address: str) -> int:
        """The number of who asks from there; the same as long as no more than many others have asked since."""
        name = household(address)
        if name not in self._numbers:
            self._numbers[name] = self._next
            self._next += 1
        self._numbers.move_to_end(name)
        while len(self._numbers) > _KEPT:
            self._numbers.popitem(last=False)
        return self._numbers[name]


def household(address: str) -> str:
    """What is taken for one sender: an IPv4 address, or the network of 64 bits of an IPv6 address, of which one machine
    has as many as it likes (RFC 8981). Anything else stands for itself."""
    try:
        found = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address[:100]
    if isinstance(found, ipaddress.IPv4Address):
        return str(found)
    if found.ipv4_mapped is not None:
        return str(found.ipv4_mapped)
    return str(ipaddress.IPv6Network((int(found) >> 64 << 64, 64)))
