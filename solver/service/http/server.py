"""The server: a socket, uvicorn, and an end within five seconds."""

from __future__ import annotations

import asyncio
import contextlib
import gc
import ipaddress
import os
import resource
import signal
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import uvicorn

from solver.service.errors import ServiceError
from solver.service.http.app import Service, service
from solver.service.http.guard import HEAD_BYTES, host_name
from solver.service.http.protocol import protocol
from solver.service.http.token import token_of
from solver.service.jobs.jobs import Jobs
from solver.service.kept.results import warm
from solver.service.limits import ServiceLimits

END_S = 4.8  # after so long [s] the process ends, whatever still holds it


@dataclass(frozen=True)
class Setup:
    """What is asked for. names: further host names; token_file: None for the environment's, or none; proxies: addresses
    and networks of proxies that are believed."""

    host: str
    port: int
    data: Path
    names: tuple[str, ...] = ()
    token_file: Path | None = None
    access_log: bool = False
    proxies: tuple[str, ...] = ()
    limits: ServiceLimits = field(default_factory=ServiceLimits)


def serve(setup: Setup, tell: Callable[[str], None]) -> None:
    """Serve until SIGINT, SIGTERM or SIGHUP. tell: gets the address, once it can be opened. Raises ServiceError, Busy,
    StoreError and OSError where it cannot begin."""
    token = token_of(setup.token_file)
    if token is None and not is_loopback(setup.host):
        raise ServiceError(
            f"--host {setup.host}: others can reach this address, so a token is needed; give --token-file FILE"
        )
    for name in setup.names:
        if host_name(name.lower()) is None:
            raise ServiceError(f"--name {name}: must be the name of a host, like orrery.museum.example")
    proxies = trusted(setup.proxies)
    _many_files()
    warm()
    with _socket(setup.host, setup.port) as listening, Jobs(setup.data, setup.limits) as jobs:
        log = (lambda line: print(line, file=sys.stderr, flush=True)) if setup.access_log else None
        told = socket.gethostname() if setup.host in ("0.0.0.0", "::", "") else setup.host
        made = service(jobs, (*setup.names, told), token, log, proxies)
        address = f"http://{f'[{told}]' if ':' in told else told}:{listening.getsockname()[1]}/"
        Server(made, jobs, lambda: tell(address)).run(sockets=[listening])
    gc.freeze()  # all that is left goes with this process; to look through it for garbage takes longer than to end


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach that address or name. Raises ServiceError where there is no such host."""
    try:
        found = {info[4][0] for info in socket.getaddrinfo(host, None, type=socket.SOCK_STREAM)}
    except (OSError, UnicodeError):
        raise ServiceError(f"--host {host}: no such host") from None
    return bool(host) and all(ipaddress.ip_address(str(one).partition("%")[0]).is_loopback for one in found)


def trusted(proxies: tuple[str, ...]) -> tuple[str, ...]:
    """The addresses and networks of these proxies; of those of IPv4 also the form in which a socket for both kinds
    tells them. Raises ServiceError."""
    told = []
    for one in proxies:
        try:
            network = ipaddress.ip_network(one)
        except ValueError as fault:
            raise ServiceError(f"--proxy {one}: must be an address or a network like 10.0.0.0/8 ({fault})") from None
        told.append(str(network))
        if network.version == 4:
            told.append(f"::ffff:{network.network_address}/{96 + network.prefixlen}")
    return tuple(told)


@contextlib.contextmanager
def _socket(host: str, port: int) -> Iterator[socket.socket]:
    family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
    with socket.socket(family, socket.SOCK_STREAM) as listening:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((host, port))
        except OSError as fault:
            raise ServiceError(f"--host {host} --port {port}: {fault.strerror}; choose another") from None
        yield listening


def _many_files() -> None:
    """A connection is an open file: allow as many as the system does."""
    _, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    with contextlib.suppress(ValueError, OSError):
        resource.setrlimit(resource.RLIMIT_NOFILE, (most, most))


class Server(uvicorn.Server):
    """uvicorn's server, which says when it can be reached, and at its end does not wait for streams and runners."""

    def __init__(self, made: Service, jobs: Jobs, ready: Callable[[], None]) -> None:
        """ready: called once it can be reached."""
        config = uvicorn.Config(
            made.app,
            http=protocol(jobs.limits),
            ws="none",
            lifespan="off",
            log_config=None,
            log_level="critical",  # faults of the application are told by the guard, all else is nobody's business
            h11_max_incomplete_event_size=HEAD_BYTES,
            access_log=False,
            server_header=False,
            proxy_headers=False,
            timeout_keep_alive=30,
            timeout_graceful_shutdown=1,
            backlog=512,
        )
        super().__init__(config)
        self._made, self._jobs, self._ready = made, jobs, ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._made.close()
        runners = asyncio.get_running_loop().run_in_executor(None, self._jobs.close)
        await super().shutdown(sockets)
        await runners

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """An end that was asked for is no fault: the exit code is 0. A second signal ends at once."""
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        ending = [signal.SIGINT, signal.SIGTERM]
        if hasattr(signal, "SIGHUP") and signal.getsignal(signal.SIGHUP) != signal.SIG_IGN:  # as nohup wishes
            ending.append(signal.SIGHUP)
        before = {number: signal.signal(number, self._on_signal) for number in ending}
        try:
            yield
        finally:
            for number, old in before.items():
                signal.signal(number, old)

    def _on_signal(self, signum: int, _frame: Any) -> None:
        if self.should_exit:
            os._exit(128 + signum)
        self.should_exit = True
        timer = threading.Timer(END_S, os._exit, (0,))
        timer.daemon = True
        timer.start()
