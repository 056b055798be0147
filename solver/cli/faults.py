"""Where a command's faults become lines on standard error and exit codes."""

from __future__ import annotations

import re
import sys
import traceback
from collections.abc import Callable
from itertools import pairwise
from typing import Any, NoReturn

import typer

from solver.cli import signals, streams
from solver.cli.app import app
from solver.cli.exits import EXIT_BUSY, EXIT_FAULT, EXIT_INPUT, EXIT_LIMIT, Usage
from solver.design.errors import DesignError
from solver.words.misread import point_for_comma
from solver.words.shown import shown


def run() -> NoReturn:
    """Run the words of the command line; never shows a traceback for what a user can mend."""
    code = _code_of(_refuse_empty) or _code_of(lambda: int(app(standalone_mode=False) or 0))
    signals.finish(_code_of(streams.flush) or code)


def _refuse_empty() -> None:
    """An empty word would be taken for the folder one is in."""
    for before, word in pairwise(("", *sys.argv[1:])):
        if not word or re.fullmatch(r"--[a-z-]+=", word):
            told = word[:-1] or f"an empty word{before and f' behind {before}'}"
            raise Usage(f"{told}: nothing is given; write what is meant, or leave it out")


_WRONG_WORDS: type[Exception] = typer.BadParameter.mro()[2]  # click's, whether it comes with typer or beside it


def _usage(fault: Any) -> int:
    if any("\n" in word for word in sys.argv):  # else its lines are click's own
        fault.message = shown(fault.message)
    points = [point for word in sys.argv if (point := point_for_comma(word.rpartition("=")[2]))]
    if points and "valid number" in fault.message:
        fault.message += f"; decimals stand behind a point: {', '.join(points)}"
    fault.show(sys.stderr)
    return int(fault.exit_code)


def _allowed() -> str:
    """How much memory this process may have, where a limit is set."""
    import resource

    limits = [resource.getrlimit(kind)[0] for kind in (resource.RLIMIT_AS, resource.RLIMIT_DATA)]
    told = [f"{limit >> 20} MB" for limit in limits if limit != resource.RLIM_INFINITY]
    return f": this process may have {told[0]}" if told else ""


def _code_of(work: Callable[[], int | None]) -> int:
    """What `work` returns as an exit code, 0 for None; or that of the fault that it raises, which is told."""
    from solver.batch.store.errors import Busy, ClusterError, StoreError
    from solver.service.errors import ServiceError
    from solver.sheets.errors import SheetsError
    from solver.sky.errors import SkyError

    try:
        return work() or 0
    except DesignError as fault:
        for complaint in fault.complaints:
            print(complaint, file=sys.stderr)
        return EXIT_INPUT
    except StoreError as fault:
        for line in fault.args:
            print(line, file=sys.stderr)
        return EXIT_INPUT
    except (ClusterError, ServiceError, SheetsError, SkyError, Usage) as fault:
        print(fault, file=sys.stderr)
        return EXIT_INPUT
    except Busy as fault:
        print(fault, file=sys.stderr)
        return EXIT_BUSY
    except _WRONG_WORDS as fault:
        return _usage(fault)
    except OSError as fault:
        name = f"{fault.filename}: " if fault.filename else ""
        print(f"{name}{fault.strerror or fault}", file=sys.stderr)
        return EXIT_INPUT
    except MemoryError:
        print(f"memory too small{_allowed()}; free some, or allow more", file=sys.stderr)
        return EXIT_LIMIT
    except Exception:  # noqa: BLE001 - the one place where a fault inside becomes an exit code
        traceback.print_exc()
        print("failure inside Ringwright: please report the lines above with the design file", file=sys.stderr)
        return EXIT_FAULT
