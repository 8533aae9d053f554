"""The program shown in docs/programs.md is the one that is written, and it reads back."""

from __future__ import annotations

import re
from pathlib import Path

from tests_program_help import NAN, clean, path_of

from sparwright.cutting.model import ARC_CCW, ARC_CW, LINE, RAPID, Cut, Piece, SideCuts
from sparwright.job.models import Job
from sparwright.placing.model import Pose
from sparwright.program.writer import write_programs

PAGE = Path(__file__).resolve().parents[2] / "docs" / "programs.md"


def test_the_program_on_the_page_is_written_so(bridge_job: Job) -> None:
    path = path_of(
        (50, 0, 6),
        [
            (RAPID, (50, 0, 0.5), None, NAN),
            (ARC_CCW, (50, 0, -1), (45, 0), 180.0),
            (LINE, (50, 12, -1), None, 420.0),
            (ARC_CW, (56, 18, -1), (56, 12), 420.0),
            (RAPID, (56, 18, 6), None, NAN),
        ],
    )
    pieces = (Piece("isogrid/front/r1c03", path),)
    cuts = SideCuts("front", (Cut("clear pockets", "clear", 2, 18000.0, pieces, seconds=96.0),))
    (program,) = write_programs(cuts, Pose(100, 100, 0.0), bridge_job)
    shown = re.search(r"```text\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert shown is not None
    varying = r"\((job|cutter)[^)]*\)"  # the job's digest and its cutters may change without the page
    assert re.sub(varying, "", program.text) == re.sub(varying, "", shown.group(1))
    assert clean(shown.group(1)).ended
