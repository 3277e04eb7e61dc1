"""A season beside the log of its box antennas: which bird was heard when, and what does not agree."""

from __future__ import annotations

from dataclasses import dataclass, replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import check, declarations_of, read_season
from audit.handover.findings_files import write_csv
from audit.handover.folder import write_whole
from audit.handover.passages.bird_lines import BIRD_COLUMNS, bird_lines
from audit.handover.passages.heard_table import HEARD_COLUMNS, heard_lines, with_heard
from audit.handover.passages.passages_files import passages_writers
from audit.handover.summary import summary_text
from audit.handover.table_file import write_table
from audit.passing import Passed, passages
from audit.review.wording import chance
from audit.rules.given_tags import given_tags
from audit.rules.hand_reads import hand_reads
from audit.rules.young_tags import young_tags
from audit.season import Season

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.handover.passages.bird_lines import BirdLine

__all__ = ["HEARD_RULES", "Beside", "heard"]

#: Questions that the log of the antennas answers.
HEARD_RULES = ("heard_life", "heard_end", "heard_whose", "logger")


@dataclass(frozen=True, slots=True)
class Beside:
    """A season beside the log of its antennas: shown as a summary, written as files.

    Attributes
    ----------
    season : Season
        With the table ``heard``: one row for each tag at each box in each night.
    passed : Passed
        What became of the log.
    report : Report
        What does not agree, by the questions that need the log.
    lines : tuple of BirdLine
        One for each tagged bird.
    """

    season: Season
    passed: Passed
    report: Report
    lines: tuple[BirdLine, ...]

    def __repr__(self) -> str:
        young = [line for line in self.lines if line.young]
        flights = [line.p for line in young if line.first_flight and line.p is not None]
        heard_ones = sum(bool(line.first_heard) for line in self.lines)
        birds = (
            f"{len(self.lines):,} birds with a tag, {heard_ones:,} heard at their own box; a first flight is "
            f"told of {len(flights):,} of {len(young):,} nestlings{_how_sure(flights)}."
        )
        return f"{birds}\n{summary_text(self.report, _WIDTH)}"

    def _repr_html_(self) -> str:
        return f"<pre style='white-space:pre-wrap'>{escape(repr(self))}</pre>"

    def birds(self) -> pd.DataFrame:
        """Give one row for each tagged bird, as in ``birds.csv``, and in words how sure its flight is."""
        import pandas as pd

        frame = pd.DataFrame([line.cells for line in self.lines], columns=list(BIRD_COLUMNS))
        times = ("first_heard", "last_heard", "first_flight", "last_passage", "fitted")
        sure = ["" if line.p is None else chance(line.p) for line in self.lines]
        frame.insert(list(frame.columns).index("first_flight") + 1, "how_sure", sure)
        return frame.assign(
            nights=frame["nights"].astype(int),
            p=pd.to_numeric(frame["p"]),
            young=frame["young"] == "yes",
            **{name: pd.to_datetime(frame[name], format="ISO8601") for name in times},
        )

    def write(self, out: str | Path, *, inputs: Sequence[Path | None] = ()) -> list[Path]:
        """Write passages, states of antennas, ``birds.csv``, ``heard.csv`` and ``findings.csv``, or nothing.

        Parameters
        ----------
        out : path
            Folder for the results, made when it is not there.
        inputs : sequence of Path
            Further files that were read: no result may replace them.

        Raises
        ------
        audit.refusal.Refusal
            The folder cannot be written to, or a result would replace or join what was read.
        """
        writers = {
            **passages_writers(self.passed.record),
            "birds.csv": lambda path: write_table(path, (BIRD_COLUMNS, *(line.cells for line in self.lines))),
            "heard.csv": lambda path: write_table(path, (HEARD_COLUMNS, *heard_lines(self.season))),
            "findings.csv": lambda path: write_csv(self.report, path),
        }
        read = (self.passed.source, *(Path(file.path) for file in self.season.files), *inputs)
        return write_whole(writers, Path(out), read)


_WIDTH = 100


def _how_sure(flights: Sequence[float]) -> str:
    """Say how sure the surest and the least sure of some first flights are."""
    if not flights:
        return ""
    most, least = chance(max(flights)), chance(min(flights))
    return f", {'all with ' if most == least else f'the surest with {most}, the least sure with '}{least}"


def heard(
    log: Passed | str | Path,
    season: Season | str | Path | Mapping[str, pd.DataFrame],
    *,
    schemas: str | Path | Declarations | None = None,
    set_clock: bool = True,
) -> Beside:
    """Lay a season beside the log of its antennas.

    Parameters
    ----------
    log : Passed or path
        What `passages` made of the log, or the log. Of a log, tags that were read by hand tell by how many
        whole hours a logger's clock was off, tags that were given out are not taken for noise, and nestlings
        tell whether the antennas of their box are exchanged.
    season : Season, path or mapping of str to pandas.DataFrame
        A season already read, or anything that `read_season` takes.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.
    set_clock : bool
        Of a log: as for `passages`.

    Returns
    -------
    Beside
        Season, findings and birds. Nothing is changed.

    Raises
    ------
    audit.refusal.Refusal
        Log, season or a declaration cannot be read: with place and cure.
    """
    declared = declarations_of(schemas)
    if not isinstance(season, Season):
        season = read_season(season, schemas=declared)
    if isinstance(log, Passed):
        passed = log
    else:
        read = hand_reads(season, declared)
        passed = passages(
            log,
            schemas=declared,
            set_clock=set_clock,
            anchors=read,
            by_hours=True,
            given=given_tags(season),
            young=young_tags(season, declared),
        )
    together = with_heard(season, passed.record)
    whole = check(together, schemas=declared)

    def ours(slug: str) -> bool:
        return slug.partition(".")[0] in HEARD_RULES

    report = replace(
        whole,
        findings=tuple(finding for finding in whole.findings if ours(finding.rule)),
        not_run=tuple(part for part in whole.not_run if ours(part.rule)),
        rules_run=tuple(slug for slug in whole.rules_run if ours(slug)),
    )
    lines = bird_lines(together, declared, passed.record, report.findings)
    return Beside(together, passed, report, lines)
