"""What a notebook shows of a season and its report: every piece reads well without a kernel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.handover.folder import write_outputs
from audit.handover.page import findings_text
from audit.review.download_table import download_table, download_text
from audit.review.download_visits import NO_DOWNLOAD, download_visits
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from audit.charts.download_lines import Beside
    from audit.charts.living import Living
    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.rules.ring_ledger.ledger import RingLedger
    from audit.rules.tag_ledger import TagLedger
    from audit.season import Season

__all__ = [
    "Ledgers",
    "Page",
    "Pictures",
    "conflicts",
    "contents",
    "ledger",
    "pictures",
    "typed_rows",
    "write",
]


@dataclass(frozen=True, slots=True)
class Page:
    """A piece of HTML with the same in plain words."""

    html: str
    text: str

    def __repr__(self) -> str:
        return self.text

    def _repr_html_(self) -> str:
        return self.html


def contents(season: Season) -> Page:
    """Say what was read: the tables with their rows and columns, and what a person should know about it."""
    lines = []
    for name, table in season.tables.items():
        sheets = ", ".join(dict.fromkeys(sheet for sheet, _ in table.columns))
        fields = ", ".join(table.frame.columns)
        lines.append((name, sheets, f"{len(table.frame):,}", fields))
    rows = "".join(
        f"<tr>{''.join(f'<td style=text-align:left>{escape(cell)}</td>' for cell in line)}</tr>"
        for line in lines
    )
    heads = "".join(
        f"<th style=text-align:left>{head}</th>" for head in ("table", "sheet", "rows", "columns read")
    )
    notices = "".join(f"<li>{escape(notice)}</li>" for notice in season.notices)
    html = (
        f"<p><strong>{escape(season.name)}</strong></p><table><thead><tr>{heads}</tr></thead>"
        f"<tbody>{rows}</tbody></table><ul>{notices}</ul>"
    )
    told = [f"{name}: {counted(int(n.replace(',', '')), 'row', 'rows')}" for name, _, n, _ in lines]
    return Page(html, "\n".join([season.name, *told, *season.notices]))


def typed_rows(season: Season, report: Report, *, about: Collection[str] = ()) -> Page:
    """Show every finding by box and day, with the rows as typed around it and the suspect cells marked.

    Parameters
    ----------
    about : collection of str, optional
        Columns, such as ``ring`` and ``tag``: only findings that suspect one of them are shown.
    """
    if about:
        kept = (f for f in report.findings if any(suspect.cell.field in about for suspect in f.suspects))
        report = replace(report, findings=tuple(kept))
    return Page(findings_text(report, season), "\n".join(finding.message for finding in report.findings))


def conflicts(season: Season, report: Report) -> Page:
    """Show every ring that was met again with another tag, every tag that was met on another ring."""
    from audit.charts import meeting_links
    from audit.handover.conflicts_table import conflicts_table, conflicts_text

    links = meeting_links.conflicts(season, report)
    return Page(conflicts_table(links), conflicts_text(links))


@dataclass(frozen=True, slots=True)
class Pictures:
    """The pictures of a season, each the answer to one question."""

    season: Season
    report: Report
    declared: Declarations

    def mass_against_wing(self, species: str | None = None) -> Living:
        """Draw mass against wing, by default of the most frequent species."""
        from audit.charts import mass_wing
        from audit.charts.living import Living

        present = mass_wing.species_present(self.season, self.declared)
        chosen = species or (present[0] if present else None)
        drawn = mass_wing.chart(self.season, self.declared, self.report, chosen)
        return Living(drawn, "No bird has both a mass and a wing.")

    def ring_order(self) -> Living:
        """Draw the rings in the order in which they were put on."""
        from audit.charts import ring_order
        from audit.charts.living import Living

        return Living(ring_order.chart(self.season, self.declared, self.report), "No rings were typed.")

    def bag_through_the_day(self) -> Living:
        """Draw the weight of the bag through each day."""
        from audit.charts import bag_day
        from audit.charts.living import Living

        return Living(bag_day.chart(self.season, self.declared, self.report), "No bag weights were typed.")

    def life_lines(self, box: str | None = None) -> Living:
        """Draw ring and tag of each bird of a box from visit to visit, by default the most doubtful box."""
        from audit.charts import life_lines
        from audit.charts.living import Living

        drawn = life_lines.chart(self.season, self.declared, self.report, box)
        where = "" if box is None else f" in box {box}"
        return Living(drawn, f"No ring and no tag with a date was typed{where}.")

    def download(self, day: str | None = None, box: str | None = None) -> Living:
        """Draw the rows of a day or visit beside the hand reader's; by default of the most doubtful visit."""
        from audit.charts import download
        from audit.charts.living import Living

        beside = self._beside(day, box)
        return Living(None if beside is None else download.chart(beside), NO_DOWNLOAD)

    def download_table(self, day: str | None = None, box: str | None = None) -> Page:
        """Show the same as a table."""
        beside = self._beside(day, box)
        if beside is None:
            return Page(f"<p>{escape(NO_DOWNLOAD)}</p>", NO_DOWNLOAD)
        return Page(download_table(beside), download_text(beside))

    def _beside(self, day: str | None, box: str | None) -> Beside | None:
        visits = download_visits(self.season, self.declared, self.report)
        if day is None:
            of_box = [one for one in visits.by_doubt() if box in (None, one.box)]
            if not of_box:
                return None
            day, box = of_box[0].day, of_box[0].box
        beside = visits.beside(day, box)
        return beside if beside.rows or beside.reads else None


def pictures(season: Season, report: Report, *, schemas: str | Path | Declarations | None = None) -> Pictures:
    """Gather the pictures of a season."""
    return Pictures(season, report, declarations_of(schemas))


@dataclass(frozen=True, slots=True)
class Ledgers:
    """What became of every ring and tag of a season.

    Attributes
    ----------
    season : str
        Its name.
    ring_ledger, tag_ledger : RingLedger, TagLedger
        Every ring and every tag with its one fate.
    source : str
        File that the season was read from; it is never written to.
    """

    season: str
    ring_ledger: RingLedger
    tag_ledger: TagLedger
    source: str = ""

    def table(self) -> Page:
        """Show rings by string and tags by batch, and the questions that are left."""
        from audit.handover.ledger.ledger_page import ledger_tables
        from audit.handover.ledger.ledger_text import ledger_text

        told = self.season, self.ring_ledger, self.tag_ledger
        return Page(ledger_tables(*told), ledger_text(*told))

    def rings(self) -> Living:
        """Draw each string of rings as a strip of cells."""
        from audit.charts.living import Living
        from audit.handover.ledger.ledger_strips import rings_chart

        return Living(rings_chart(self.ring_ledger), "No string of rings is in the stock.")

    def tags(self) -> Living:
        """Draw each batch of tags as a strip of cells."""
        from audit.charts.living import Living
        from audit.handover.ledger.ledger_strips import tags_chart

        return Living(tags_chart(self.tag_ledger), "No list of tags was read.")

    def questions(self) -> list[str]:
        """List what is left to answer, one sentence each."""
        from audit.handover.ledger.ledger_words import questions

        return questions(self.ring_ledger, self.tag_ledger)

    def write(self, out: str | Path) -> Page:
        """Write the tables and the page of the ledgers into a folder, and say where they are.

        Raises
        ------
        audit.refusal.Refusal
            The folder cannot be written to, or a result would replace the file as typed.
        """
        from audit.handover.ledger.ledger_files import write_ledger

        inputs = [Path(self.source)] if self.source else []
        told = self.season, self.ring_ledger, self.tag_ledger
        return _written(write_ledger(*told, Path(out), inputs=inputs))


def ledger(
    season: Season, report: Report | None = None, *, schemas: str | Path | Declarations | None = None
) -> Ledgers:
    """Tell what became of every ring and tag.

    Parameters
    ----------
    season : Season
        As read by `audit.read_season`.
    report : Report, optional
        Of its findings, suggestions that are very probably right tell the likely fate of a ring or tag beside
        the one as typed.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.

    Returns
    -------
    Ledgers
        ``table()``, ``rings()``, ``tags()`` and ``questions()`` show it.
    """
    from audit.rules.ring_ledger.laid import lay_ledger
    from audit.rules.tag_ledger import lay_tag_ledger

    declared = declarations_of(schemas)
    return Ledgers(
        season.name,
        lay_ledger(season, declared, report),
        lay_tag_ledger(season, declared, report),
        season.source,
    )


def write(
    season: Season, report: Report, out: str | Path, *, schemas: str | Path | Declarations | None = None
) -> Page:
    """Write the marked workbook, the page and the findings into a folder, and say where they are.

    Raises
    ------
    audit.refusal.Refusal
        The folder cannot be written to, or a result would replace the file as typed.
    """
    source = Path(season.source) if season.source else None
    return _written(write_outputs(season, report, declarations_of(schemas), source, Path(out)))


def _written(files: Sequence[Path]) -> Page:
    lines = "".join(f"<li><code>{escape(str(path))}</code></li>" for path in files)
    return Page(f"<p>Written:</p><ul>{lines}</ul>", "Written:\n" + "\n".join(f"  {path}" for path in files))
