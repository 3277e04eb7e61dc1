"""What a notebook shows of a season and its report: every piece reads well without a kernel."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from audit.checking import declarations_of
from audit.handover.folder import write_outputs
from audit.handover.page import findings_text
from audit.handover.wording import counted

if TYPE_CHECKING:
    from audit.charts.living import Living
    from audit.declarations import Declarations
    from audit.findings import Report
    from audit.season import Season

__all__ = ["Page", "Pictures", "contents", "pictures", "typed_rows", "write"]


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
    from html import escape

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


def typed_rows(season: Season, report: Report) -> Page:
    """Show every finding by box and day, with the rows as typed around it and the suspect cells marked."""
    return Page(findings_text(report, season), "\n".join(finding.message for finding in report.findings))


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


def pictures(season: Season, report: Report, *, schemas: str | Path | Declarations | None = None) -> Pictures:
    """Gather the pictures of a season."""
    return Pictures(season, report, declarations_of(schemas))


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
    written = write_outputs(season, report, declarations_of(schemas), source, Path(out))
    lines = "".join(f"<li><code>{path}</code></li>" for path in written)
    return Page(f"<p>Written:</p><ul>{lines}</ul>", "Written:\n" + "\n".join(f"  {path}" for path in written))
