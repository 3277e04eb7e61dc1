"""What was meant in a cell that cannot be read, stands beyond its column, or is empty.

A cell that one slip has spoilt still tells most of what was meant; the cells around it tell the rest. Both
are put together: what the surroundings let expect, times the chance that the hand made of it what is typed.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from audit.explain.surroundings import MEASURES
from audit.explain.unread_beliefs import Beliefs, beliefs_of
from audit.explain.unread_measures import MeasureBeliefs
from audit.explain.unread_sheet import Tables
from audit.explain.unread_words import Meant, fact_of, sentence
from audit.explain.unread_writing import Writing, of_dates, of_numbers, of_times, of_words
from audit.models.misstruck import Struck
from audit.rules.others import others_of
from audit.rules.round import blamed_by
from audit.rules.typing_hand import hand_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from audit.declarations import Declarations
    from audit.declarations.tables import FieldDeclaration
    from audit.explain.unread_sheet import Belief, Sheet
    from audit.findings import Finding, Suspect
    from audit.models.misstruck import Hand
    from audit.rules.layouts import Layouts
    from audit.season import Season

__all__ = ["mend_unread"]

#: Findings about what is typed in one cell, whatever it should say.
_ABOUT_A_CELL = frozenset(
    {
        "reading.unreadable",
        "reading.letter_in_number",
        "declared.missing",
        "declared.range",
        "declared.set",
        "declared.left_out",
        "times.order",
        "times.reader",
    }
)
#: Ring and tag numbers are another matter.
_NOT_HERE = frozenset({"ring", "tag"})


def mend_unread(
    season: Season, declared: Declarations, findings: Iterable[Finding], layouts: Layouts | None = None
) -> tuple[Finding, ...]:
    """Say what was probably meant in cells that cannot be read, are impossible, or empty.

    Parameters
    ----------
    findings : iterable of Finding
        Of all rules; cells that they blame are no witnesses.
    layouts : Layouts, optional
        What the rules have laid out.

    Returns
    -------
    tuple of Finding
        The same in the same order. A finding about one such cell has the likeliest value, its probability and
        the reason, where there is one that is likely enough; one that is not is taken out.

    References
    ----------
    Kernighan, M. D., Church, K. W. & Gale, W. A. (1990). A spelling correction program based on a noisy
    channel model. COLING 1990, 205-210: what was meant, by prior times channel.
    """
    found = tuple(findings)
    reader = _Reader(Tables(season, declared, blamed_by(found), layouts))
    return tuple(reader.mend(finding) for finding in found)


class _Reader:
    def __init__(self, tables: Tables) -> None:
        self.season = tables.season
        self.declared = tables.declared
        self.tables = tables
        self._beliefs: dict[str, Beliefs] = {}
        self._writings: dict[tuple[str, str], Writing | None] = {}

    def _setting(self, name: str) -> Any:  # noqa: ANN401 - a number or a list
        return self.tables.setting(name)

    @cached_property
    def hand(self) -> Hand:
        return hand_of(self.declared)

    @cached_property
    def measures(self) -> MeasureBeliefs:
        return MeasureBeliefs(self.tables)

    # --- one finding ----------------------------------------------------------------------------------

    def mend(self, finding: Finding) -> Finding:
        if finding.rule not in _ABOUT_A_CELL or len(finding.suspects) != 1:
            return finding
        suspect = finding.suspects[0]
        if suspect.cell.field in _NOT_HERE:
            return finding
        meant = self._meant(suspect)
        if meant is None:
            return finding
        if meant.chance < self._setting("suggest_from"):
            bare = replace(suspect, suggested="", p_fix=None, others=self._others(suspect, meant, ""))
            return replace(finding, suspects=(bare,), message=f"{fact_of(finding)}.")
        others = self._others(suspect, meant, meant.value)
        mended = replace(suspect, suggested=meant.value, p_fix=meant.chance, others=others)
        return replace(
            finding, suspects=(mended,), message=sentence(finding, meant, self._unit(suspect), self.hand)
        )

    def _meant(self, suspect: Suspect) -> Meant | None:
        cell = suspect.cell
        table = next((name for name in self.season.tables if self._holds(name, cell.label)), "")
        if not table:
            return None
        field = next((f for f in self.declared.tables[table].fields if f.name == cell.field), None)
        sheet = self.tables.sheet(table)
        if field is None or sheet is None:
            return None
        writing = self._writing(table, field, sheet)
        belief = self._belief(table, field, sheet, cell.label, writing)
        if belief is None or not belief.plain:
            return None
        typed = cell.observed.strip()
        chance = self._channel(typed, belief, writing)
        log = belief.log_prior + np.log(chance)
        total = np.logaddexp.reduce(log)
        if not np.isfinite(total):
            return None
        log = log - total
        best = int(np.argmax(log))
        sure = float(np.exp(log[best])) * float(self._setting("surest"))
        struck = self._struck(typed, belief.plain[best], writing)
        # one more than can be named, since what is typed may be among them
        first = np.argsort(-log, kind="stable")[: int(self._declared("most")) + 2]
        told = np.exp(log[first]) * float(self._setting("surest"))
        others = tuple((belief.plain[int(k)], float(p)) for k, p in zip(first, told, strict=True))
        return Meant(belief.plain[best], sure, belief.because(best), struck, belief.noun, others)

    def _declared(self, name: str) -> float:
        return float(self.declared.settings[f"explain.others.{name}"].value)

    def _others(self, suspect: Suspect, meant: Meant, suggested: str) -> tuple[tuple[str, float], ...]:
        return others_of(
            meant.others,
            suggested=suggested,
            typed=suspect.cell.observed,
            room=suspect.p_error - (meant.chance if suggested else 0.0),
            least=self._declared("least_chance"),
            most=int(self._declared("most")),
        )

    def _holds(self, table: str, label: str) -> bool:
        sheet = self.tables.sheet(table)
        return sheet is not None and label in sheet.place

    def _unit(self, suspect: Suspect) -> str:
        units = {
            field.unit
            for name, table in self.declared.tables.items()
            if self.season.has(name)
            for field in table.fields
            if field.name == suspect.cell.field and field.unit
        }
        return f" {units.pop()}" if len(units) == 1 else ""

    # --- what may be meant ----------------------------------------------------------------------------

    def _belief(
        self, table: str, field: FieldDeclaration, sheet: Sheet, label: str, writing: Writing | None
    ) -> Belief | None:
        if table not in self._beliefs:
            self._beliefs[table] = beliefs_of(self.tables, sheet)
        beliefs, row, name = self._beliefs[table], sheet.place[label], field.name
        if field.kind == "date":
            return beliefs.days.date(row) if name == "date" else beliefs.days.other_date(name, row)
        if field.kind == "time":
            return beliefs.times.time(row) if name == "time" else None
        if name == "box":
            return beliefs.boxes.box(row)
        if name == "brood_size":
            return beliefs.counts.brood_size(row)
        if (table, name) == ("visits", "alive"):
            return beliefs.counts.alive(row)
        if field.kind == "string":
            return beliefs.codes.code(name, row, [str(word) for word in field.allowed or ()])
        if field.kind not in ("number", "integer") or writing is None:
            return None
        if table == "handlings" and name in MEASURES:
            column = sheet.numbers(name)
            grid = beliefs.codes.grid(column[np.isfinite(column)], writing.unit)
            return None if grid is None else self.measures.measure(name, label, writing.unit, grid)
        return beliefs.codes.number(name, row, writing.unit)

    def _writing(self, table: str, field: FieldDeclaration, sheet: Sheet) -> Writing | None:
        key = (table, field.name)
        if key not in self._writings:
            self._writings[key] = self._written(table, field, sheet)
        return self._writings[key]

    def _written(self, table: str, field: FieldDeclaration, sheet: Sheet) -> Writing | None:
        typed = self.season.tables[table].typed
        if field.name not in typed.columns or not sheet.has(field.name):
            return None
        known = sheet.frame[field.name].notna().to_numpy()
        texts = [str(text).strip() for text in typed[field.name].to_numpy(dtype=object)[known]]
        column = sheet.frame[field.name]
        share = float(self._setting("form_share"))
        if field.kind == "date":
            days = column.to_numpy(dtype="datetime64[D]")[known].tolist()
            return of_dates(texts, days, self._setting("date_forms"), share)
        if field.kind == "time":
            values = column.to_numpy(dtype=object)[known].tolist()
            return of_times(texts, values, self._setting("time_forms"), share)
        if field.kind in ("number", "integer"):
            finer = float(self._setting("finer_share"))
            numbers = column.to_numpy(dtype=np.float64, na_value=np.nan)[known].tolist()
            return of_numbers(texts, numbers, finer, whole=field.kind == "integer")
        return of_words()

    # --- what was typed -------------------------------------------------------------------------------

    def _channel(self, typed: str, belief: Belief, writing: Writing | None) -> np.ndarray[Any, Any]:
        """Probability of the text as typed, given each value."""
        n = len(belief.plain)
        if not typed or writing is None:
            return np.ones(n)
        place = {text: k for k, value in enumerate(belief.plain) for text in writing.texts(value)}
        span = self.declared.slips.share("digits.span") if writing.is_number(typed) else None
        chance = np.full(n, max(self.hand.nothing_like_it(typed, span), np.finfo(np.float64).tiny))
        for text, struck in self.hand.before(
            typed,
            writing.alphabet or _signs_of(place),
            lambda text: writing.same(text) in place,
            # a minus before a number is a sign of it, and tells of a number worked out
            strays=span is None,
        ).items():
            chance[place[writing.same(text)]] += struck.chance
        for text, part in writing.scaled(typed, self._setting("point_places")):
            if text in place:
                chance[place[text]] += part * self.declared.slips.share("tenfold.point")
        # two slips of one hand are rare: only where much is expected
        for k in np.argsort(-belief.log_prior)[: int(self._setting("tried_for_two"))]:
            for text in writing.texts(belief.plain[int(k)]):
                chance[k] += self.hand.two_wrong(typed, text)
        return chance

    def _struck(self, typed: str, value: str, writing: Writing | None) -> Struck | None:
        if not typed or writing is None:
            return None
        texts = writing.texts(value)
        signs = writing.alphabet or "".join(texts)
        ways = self.hand.before(typed, signs, lambda text: writing.same(text) in texts)
        if any(text in texts for text, _ in writing.scaled(typed, self._setting("point_places"))):
            return Struck(1.0, "tenfold")
        return max(ways.values(), key=lambda struck: struck.chance, default=None)


def _signs_of(texts: Iterable[str]) -> str:
    return "".join(sorted(set("".join(texts))))
