"""How much of everything the service takes on: whatever is beyond is refused, with the limit in the message."""

from __future__ import annotations

from dataclasses import dataclass, field
from os import cpu_count


@dataclass(frozen=True)
class ServiceLimits:
    """most_points: of one job; most_jobs: that are not over; solve_seconds [s] and memory_mb [MiB]: for one point;
    check_seconds [s]: for validating one submission; body_bytes: of one request; body_seconds, head_seconds [s]: until
    a request's body, its head is there; connections: open at a time; requests: being answered at a time,
    bodies: of them with a body.

    workers: solves at a time; places: jobs whose solves are in memory while they wait for their next turn.
    """

    most_points: int = 10_000
    most_jobs: int = 1_000
    solve_seconds: float = 600.0
    memory_mb: int = 4096
    check_seconds: float = 30.0
    body_bytes: int = 1_000_000
    body_seconds: float = 10.0
    head_seconds: float = 10.0
    connections: int = 1_500
    requests: int = 1_000
    bodies: int = 128
    workers: int = field(default_factory=lambda: cpu_count() or 1)
    places: int = 32
