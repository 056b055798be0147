"""The process that makes the sheets of one solution, as a zip on standard output:
`python -m solver.service.processes.packer FOLDER POINT RANK PAPER UNITS`. Exit code 0; 3 where the design cannot be
built from, and then the output says why.
"""

from __future__ import annotations

import io
import os
import sys
import zipfile
from pathlib import Path

from solver.service.processes.pipes import end_with_input, give_way

REFUSED = 3
_MADE = (1980, 1, 1, 0, 0, 0)  # the same sheets are the same bytes


def main(words: list[str]) -> int:
    end_with_input()
    give_way()
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    from solver.answer.standing import standing
    from solver.batch.store.certificates import certified
    from solver.design.errors import DesignError
    from solver.service.errors import NotNow
    from solver.service.kept.certificates import certificate_of
    from solver.service.kept.results import Results
    from solver.sheets.book.pack import make_pack
    from solver.sheets.errors import SheetsError
    from solver.words.lengths import Lengths

    folder, point, rank, paper, units = words
    try:
        results = Results(Path(folder))
        design, solution, row = results.solution(point, int(rank))
        kept = certified(certificate_of(results, row["point_id"]), design)
        known = standing(row["status"], solution.rank, row["point_id"] in results.twice, design.keep, kept)
        files = make_pack(design, solution, paper, Lengths(design.units, units == "both"), known).files
    except (DesignError, NotNow, SheetsError) as fault:
        out.write(str(fault).encode())
        out.close()
        return REFUSED
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, data in sorted(files.items()):
            archive.writestr(zipfile.ZipInfo(name, _MADE), data, zipfile.ZIP_DEFLATED)
    out.write(buffer.getvalue())
    out.close()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
