"""Tags put on nestlings, as a season tells them to whoever reads the log of the antennas."""

from __future__ import annotations

from audit import read_season
from audit.checking import declarations_of
from audit.demo import demo_season
from audit.rules.young_tags import young_tags


def test_nestlings_of_the_demo_are_told_by_box_and_day():
    book, schemas = demo_season()
    declared = declarations_of(schemas)
    season = read_season(book, schemas=declared)
    found = young_tags(season, declared)
    sheet = season.frame("handlings")
    ages = {(str(row.box), str(row.tag)): str(row.age) for row in sheet.itertuples()}
    told = {(box, tag) for box, tags in found.items() for tag in tags}
    assert len(told) > 50
    # 1 is a nestling by the EURING exchange code
    assert all(ages.get(one, "1") == "1" for one in told)
    day = next(iter(next(iter(found.values())).values()))
    assert day % 86_400_000 == 0
