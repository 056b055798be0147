"""`ringwright serve` in a process of its own, for the benchmarks: begun, asked, looked at, ended."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx

ROOT = Path(__file__).resolve().parents[1]
LONGEST_S = 120.0  # whoever gets no answer for so long is lost


@dataclass(frozen=True)
class Served:
    """A server, in a process of its own. wait: for its end."""

    port: int
    pid: int
    kill: Callable[[], None]
    wait: Callable[[], object]

    def client(self, sender: str = "127.0.0.1") -> httpx.Client:
        """A client; sender: the address of this machine that it asks from."""
        transport = httpx.HTTPTransport(local_address=sender, limits=httpx.Limits(max_connections=20))
        return httpx.Client(base_url=f"http://127.0.0.1:{self.port}", timeout=LONGEST_S, transport=transport)

    def end(self, signum: int) -> None:
        """Send it a signal, and wait for its end."""
        os.kill(self.pid, signum)
        self.wait()

    def megabytes(self) -> float:
        """Its memory now, VmRSS [MB]; 0 where the system does not tell."""
        told = Path(f"/proc/{self.pid}/status")
        lines = told.read_text().splitlines() if told.exists() else []
        return next((int(line.split()[1]) * 1024 / 1e6 for line in lines if line.startswith("VmRSS:")), 0.0)

    def cpu(self) -> float:
        """CPU seconds it has used, without its children; 0 where the system does not tell."""
        told = Path(f"/proc/{self.pid}/stat")
        if not told.exists():
            return 0.0
        user, system = told.read_text().rpartition(")")[2].split()[11:13]
        return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")


@contextlib.contextmanager
def served(data: Path) -> Iterator[Served]:
    """`ringwright serve` at a free port, with its jobs in `data`."""
    words = [sys.executable, "-m", "solver", "serve", "--port", "0", "--data", str(data)]
    with subprocess.Popen(words, cwd=ROOT, stderr=subprocess.PIPE, text=True) as process:
        assert process.stderr is not None
        said = process.stderr.readline()
        assert said.startswith("Ringwright is at http://"), said
        port = int(said.split()[3].rstrip("/").rpartition(":")[2])

        def kill() -> None:
            process.kill()
            process.wait()

        try:
            yield Served(port, process.pid, kill, process.wait)
        finally:
            if process.poll() is None:
                process.terminate()
