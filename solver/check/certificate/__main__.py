"""Check a certificate from the command line, with nothing but Python: python -m certificate FOLDER."""

import sys
from pathlib import Path

from .check import check_certificate
from .claim import DoesNotHold, Unreadable

try:
    checked = check_certificate(Path(sys.argv[1]))
except (DoesNotHold, Unreadable) as fault:
    print(fault, file=sys.stderr)
    sys.exit(1 if isinstance(fault, DoesNotHold) else 2)
print(f"It holds: of all trains of these bodies, rings and gears, {checked.said}; {checked.best}.")
