"""No typed season, however odd, makes a picture of rings and tags fail, or its table."""

from __future__ import annotations

import json

import numpy as np
import pytest
from lxml import etree
from robustness.test_hostile_frames import DECLARED, NEEDED, ODD, damaged
from typed_season import typed_season

from audit.charts import download, life_lines
from audit.charts.box_lives import boxes_by_doubt
from audit.charts.meeting_links import conflicts
from audit.charts.still import still
from audit.checked import Checked
from audit.checking import check
from audit.handover.conflicts_table import conflicts_table, conflicts_text
from audit.review.download_table import download_table, download_text
from audit.review.download_visits import download_visits
from audit.review.picture import picture_of
from audit.rules.layouts import Layouts

TABLES = ("handlings", "earlier", "tag_reads", "tag_stock")


def odd(seed):
    """Rows of odd values in the tables that the pictures look at."""
    rng = np.random.default_rng([seed, 31])
    return {
        table: [
            {
                field.name: ODD[field.kind][int(rng.integers(len(ODD[field.kind])))]
                for field in DECLARED.tables[table].fields
                if field.name in NEEDED[table] or rng.random() < 0.8
            }
            for _ in range(int(rng.integers(1, 12)))
        ]
        for table in TABLES
    }


@pytest.mark.parametrize("seed", range(6))
def test_every_season_is_drawn_or_has_nothing_to_draw(seed):
    season = typed_season(DECLARED, **(damaged(seed) if seed % 3 == 0 else odd(seed)))
    report = check(season, schemas=DECLARED)
    for one in boxes_by_doubt(season, report)[:4]:
        etree.fromstring(still(life_lines.chart(season, DECLARED, report, one.box)).encode())
    parted = conflicts(season, report)
    etree.fromstring(f"<div>{conflicts_table(parted)}</div>")
    conflicts_text(parted)
    visits = download_visits(season, DECLARED, report)
    for one in visits.by_doubt()[:4]:
        beside = visits.beside(one.day, one.box)
        etree.fromstring(still(download.chart(beside)).encode())
        etree.fromstring(download_table(beside))
        download_text(beside)


@pytest.mark.parametrize("seed", range(6))
def test_every_finding_has_a_picture_or_none(seed):
    season = typed_season(DECLARED, **(damaged(seed) if seed % 3 == 0 else odd(seed)))
    report = check(season, schemas=DECLARED)
    checked = Checked(season, DECLARED, (), (), None, report, Layouts())
    for number, finding in enumerate(report.findings):
        picture = picture_of(checked, finding)
        if picture is None:
            continue
        assert picture.labels <= {
            str(label) for table in season.tables.values() for label in table.frame.index
        }
        assert len(json.dumps(picture.chart.to_dict())) < 60_000
        if number % 5 == 0:
            etree.fromstring(still(picture.chart).encode())
