"""Declared checks of an archive blame the cells that pandera blames, on the same frames, on two engines."""

from __future__ import annotations

import dataclasses

import pytest
from archive_rows import ENGINES, relation, worked_out
from dirty_tables import TABLES, dirty_tables
from hypothesis import HealthCheck, given, settings
from typed_season import typed_season

from audit.archive.row_checks import breaches, cell_checks
from audit.declarations import load_declarations, to_pandera
from audit.refusal import DeclarationRefusal

DECLARED = load_declarations()
REFERENCES = {("boxes", "box"): frozenset({"SL-01", "X"})}


def by_archive(name, frame, engine):
    """Blame as an archive does, on numbers in floating point."""
    table = TABLES[name]
    checks = cell_checks(table, REFERENCES, present=list(frame.columns))
    numbers = {
        field.name: "float64"
        for field in table.fields
        if field.kind in ("integer", "boolean", "number") and field.name in frame.columns
    }
    plain = frame.astype(numbers).assign(at=range(len(frame)), file=0, row=0)
    told = worked_out(breaches(relation(plain.reset_index(drop=True), engine), checks))
    labels = list(frame.index)
    return {
        (labels[int(row["at"])], check.field, check.check)
        for row in told.to_dict("records")
        for check in checks
        if bool(row[check.name])
    }


@pytest.mark.parametrize("engine", ENGINES)
def test_an_archive_blames_what_pandera_blames(engine):
    @settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(dirty_tables())
    def check(table):
        name, rows = table
        frame = typed_season(DECLARED, **{name: rows}).frame(name)
        ours = {
            (breach.label, breach.field, breach.check)
            for breach in to_pandera.blame(TABLES[name], frame, REFERENCES)
            if breach.label
        }
        assert by_archive(name, frame, engine) == ours

    check()


def test_a_pattern_that_looks_around_is_refused():
    boxes = TABLES["boxes"]
    odd = dataclasses.replace(boxes.fields[0], pattern="(?=SL).*")
    with pytest.raises(DeclarationRefusal, match="looks around or back"):
        cell_checks(dataclasses.replace(boxes, fields=(odd, *boxes.fields[1:])))
