"""Seconds at the desk of a large season, without a browser: opening, looking, deciding. Run by hand.

    python tests/benchmarks/desk.py [handlings [findings]]

Wall-clock and processor seconds of this process. The audit after a decision runs beside the person's work and
is timed apart; what a person waits for is the act itself, which writes the log and lays out the next finding.
"""

from __future__ import annotations

import sys
import tempfile
import time
from functools import partial
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np
from large_desk import large_season

from audit.checking import check
from audit.declarations import load_declarations

if TYPE_CHECKING:
    from collections.abc import Callable

#: Acts that are timed.
ACTS = 40


def main(handlings: int = 20_000, findings: int = 2_000) -> None:
    """Measure and print."""
    declared = load_declarations()
    season = large_season(declared, handlings, findings)
    told, report = timed(lambda: check(season, schemas=declared))
    print(f"{handlings:,} handlings, {len(report.above_notes):,} findings above notes")
    print(f"whole check                      {told}")
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "season.decisions.jsonl"
        told, desk = timed(lambda: report.desk(who="AB", log=log))
        print(f"desk opened                      {told}")
        print(f"    its page without a kernel    {timed(desk._repr_mimebundle_)[0]}")
        again, _ = timed(lambda: type(desk)(desk.deciding))
        print(f"    opened again                 {again}")
        looks = [seconds(desk._go_next) for _ in range(ACTS)]
        print(f"next finding laid out            {said(looks)}")
        acts = [seconds(lambda: accept_first(desk)) for _ in range(ACTS)]
        print(f"decision taken, next laid out    {said(acts)}   (audit running beside it)")
        desk.wait(600)
        told, _ = timed(lambda: (accept_first(desk), desk.wait(600)))
        print(f"decision and the audit after it  {told}")
        texts = [seconds(partial(desk.deciding.object_to, *one)) for one in cells(desk)]
        print(f"objections to a typed text       {said(texts)}")


def accept_first(desk: object) -> None:
    """Accept the first value that is offered, or else ask."""
    if desk._options:
        desk.meant.index = 0
        desk.accept.click()
    else:
        desk.ask.click()


def cells(desk: object) -> list[tuple[tuple[str, str], str]]:
    """Suspect cells with a text to try there."""
    suspects = [finding.suspects[0] for item in desk.deciding.items[:ACTS] for finding in item.findings[:1]]
    return [((one.cell.label, one.cell.field), one.suggested or "?") for one in suspects]


def timed(work: Callable[[], object]) -> tuple[str, object]:
    """Run once; say how long it took, and return what came of it."""
    wall, own = time.perf_counter(), time.process_time()
    made = work()
    return f"{time.perf_counter() - wall:.3f} s (processor {time.process_time() - own:.3f} s)", made


def seconds(work: Callable[[], object]) -> float:
    """Run once, and return the seconds on the clock."""
    wall = time.perf_counter()
    work()
    return time.perf_counter() - wall


def said(spent: list[float]) -> str:
    """Median and the longest but a twentieth."""
    return f"{median(spent):.3f} s (95 %: {float(np.quantile(spent, 0.95)):.3f} s)"


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
