"""The picture that answers the question of a finding, chosen by what the finding is about."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.charts.picture import Picture
from audit.review.together import wrong_together

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from audit.charts.handled import Handled
    from audit.charts.meetings import Meetings
    from audit.charts.ring_neighbours import RingStore
    from audit.charts.suspected import Blamed
    from audit.charts.visit_calendar import Visit
    from audit.checked import Checked
    from audit.findings import Finding

__all__ = ["NO_PICTURE", "Picture", "lay_out", "picture_of"]

#: What to say where there is no picture.
NO_PICTURE = "No picture would say more than the rows as typed."

_MASSES = frozenset({"gross_g", "bag_g", "net_g"})
_SIZES = _MASSES | {"wing_mm", "age_days", "hatch_date"}
#: Rules whose question is in the order of ring numbers; those of other rules are in the lives of the birds.
_IN_ORDER = (
    "ring_order",
    "ring_series",
    "ring_stock",
    "declared",
    "reading",
    "tag_twice.rings",
    "slides.rings",
)
_TWO_RINGS = ("ring_twice.in_visit", "ring_twice.ringed", "ring_twice.row_twice", "tag_twice.counted")
_BY_READER = ("reader.", "tag_code.one_slip_from_read", "tag_damage.read")
_CODES = ("tag_code", "tag_damage")
_IN_LIVES = ("ring_twice", "tag_twice", "tag_leg.changed", "ring_leg.changed", "earlier", "history")
_ON_DAYS = ("dates", "boxes", "brood", "weekday", "cleaning")
_BY_SIZE = ("growth", "history", "slid_wings", "slides", "earlier.wing")


def lay_out(checked: Checked) -> None:
    """Lay out all that pictures are drawn from, ahead of the first: some seconds with 20,000 handlings."""
    from audit.review.download_visits import download_visits

    if _handled(checked) is not None:
        _met(checked)
        _visits(checked)
        download_visits(checked.season, checked.declared, checked.report, checked.layouts)


@dataclass(frozen=True, slots=True)
class _Asked:
    """A finding with its season laid out."""

    checked: Checked
    handled: Handled
    finding: Finding
    blamed: Sequence[Blamed]


def picture_of(checked: Checked, finding: Finding) -> Picture | None:
    """Choose and draw the picture that answers the question of a finding.

    Masses and wings stand among the brood, the bird's own other visits and the season's other birds; a bag or
    a sum that does not come out in the day; a ring in the order of its string; a tag beside what the hand
    reader read, or in the lives of its box; a day, a box or a brood size among the visits.

    Returns
    -------
    Picture or None
        None where no picture would say more than the rows as typed, such as for a leg or an initial, or where
        what it would be drawn from is missing. Rows are laid out once for all findings of a season.
    """
    from audit.charts.records import unchecked
    from audit.charts.suspected import blamed_rows

    handled = _handled(checked)
    if handled is None:
        return None
    blamed = blamed_rows(finding, handled, together=wrong_together(finding, checked.declared))
    asked = _Asked(checked, handled, finding, blamed)
    with unchecked():
        for way in _ways(finding):
            picture = way(asked)
            if picture is not None:
                return picture
    return None


def _ways(finding: Finding) -> Sequence[Callable[[_Asked], Picture | None]]:
    """Name the pictures that could answer a finding, the best first."""
    rule, fields = finding.rule, {suspect.cell.field for suspect in finding.suspects}
    if _by_reader(finding):
        return (_download, _lives)
    if rule.startswith("tare") and fields <= _MASSES:
        return (_bag, _sizes)
    if rule.startswith("times") or fields == {"time"}:
        return (_times,)
    if rule.startswith(_ON_DAYS) and not fields & {"age_days", "hatch_date"}:
        return (_calendar,)
    if "ring" in fields and rule.startswith((*_IN_ORDER, *_TWO_RINGS)):
        return (_rings, _lives)
    if rule.startswith("ring_series"):
        return (_rings,)
    if "tag" in fields:
        return (_download, _lives) if rule.startswith(_CODES) else (_lives, _download)
    if fields & _SIZES or rule.startswith(_BY_SIZE):
        return (_bag,) if fields == {"bag_g"} else (_sizes, _masses)
    if rule.startswith(_IN_LIVES):
        return (_lives,)
    return (_calendar,) if fields & {"date", "box", "brood_size"} else ()


def _by_reader(finding: Finding) -> bool:
    """Whether the download of the hand reader is what speaks."""
    cells = [*(suspect.cell for suspect in finding.suspects), *finding.witnesses]
    return finding.rule.startswith(_BY_READER) or any(cell.field == "read_at" for cell in cells)


def _sizes(asked: _Asked) -> Picture | None:
    from audit.charts import bird_size

    plane = bird_size.plane_for(asked.handled, asked.finding, asked.blamed)
    if plane is None:
        return None
    return bird_size.picture(
        asked.handled, asked.checked.declared.species, asked.finding, asked.blamed, plane
    )


def _bag(asked: _Asked) -> Picture | None:
    from audit.charts import through_day

    return through_day.picture(asked.handled, asked.finding, asked.blamed, "bag")


def _masses(asked: _Asked) -> Picture | None:
    from audit.charts import through_day

    return through_day.picture(asked.handled, asked.finding, asked.blamed, "mass")


def _times(asked: _Asked) -> Picture | None:
    from audit.charts import through_day

    return through_day.picture(asked.handled, asked.finding, asked.blamed, "time")


def _rings(asked: _Asked) -> Picture | None:
    from audit.charts import ring_neighbours

    return ring_neighbours.picture(asked.handled, _store(asked.checked), asked.finding, asked.blamed)


def _lives(asked: _Asked) -> Picture | None:
    from audit.charts import life_lines
    from audit.charts.box_lives import lives_of_box

    rows = [one for one in asked.blamed if one.row >= 0]
    if not rows:
        return None
    labels = [one.label for one in rows]
    box = str(asked.handled.texts["box"][rows[0].row])
    lives = lives_of_box(
        asked.checked.season, asked.checked.report, box, among=_met(asked.checked), first=labels
    )
    return life_lines.picture(lives, labels)


def _download(asked: _Asked) -> Picture | None:
    from audit.charts import download
    from audit.charts.handled import iso
    from audit.review.download_visits import download_visits

    rows = [one for one in asked.blamed if one.row >= 0 and asked.handled.rank[one.row] >= 0]
    if not rows:
        return None
    visits = download_visits(
        asked.checked.season, asked.checked.declared, asked.checked.report, asked.checked.layouts
    )
    first = rows[0].row
    beside = visits.beside(iso(asked.handled.day[first]), str(asked.handled.texts["box"][first]))
    if not beside.reads:
        return None
    return download.picture(beside, [one.label for one in rows])


def _calendar(asked: _Asked) -> Picture | None:
    from audit.charts import visit_calendar

    return visit_calendar.picture(asked.handled, _visits(asked.checked), asked.finding, asked.blamed)


def _handled(checked: Checked) -> Handled | None:
    from audit.charts.handled import COLUMNS, handled_of

    season = checked.season
    if not season.has("handlings", "date", "box", "ring") or season.frame("handlings").empty:
        return None
    laid: Handled = checked.layouts.get(
        ("pictures", "handlings"), lambda: handled_of(season, checked.declared), {"handlings": COLUMNS}
    )
    return laid


def _met(checked: Checked) -> Meetings:
    from audit.charts.meetings import meetings_in

    heeds = dict.fromkeys(("handlings", "earlier"), ("date", "box", "ring", "tag", "event", "remarks"))
    met: Meetings = checked.layouts.get(("pictures", "meetings"), lambda: meetings_in(checked.season), heeds)
    return met


def _store(checked: Checked) -> RingStore:
    from audit.charts.ring_neighbours import RingStore

    season = checked.season
    strings: list[tuple[str, str]] = []
    if season.has("ring_stock", "prefix", "first", "last"):
        columns = (
            season.frame("ring_stock")[name].fillna("").tolist() for name in ("prefix", "first", "last")
        )
        ends = zip(*columns, strict=True)
        strings = [(f"{prefix}{first}", f"{prefix}{last}") for prefix, first, last in ends if first and last]
    losses: dict[str, str] = {}
    if season.has("ring_losses", "ring"):
        rings = season.frame("ring_losses")["ring"]
        losses = {str(label): ring for label, ring in rings.items() if isinstance(ring, str)}
    return RingStore(tuple(strings), losses)


def _visits(checked: Checked) -> dict[str, Visit]:
    from audit.charts.visit_calendar import visits_in

    season = checked.season
    made: dict[str, Visit] = checked.layouts.get(
        ("pictures", "visits"), lambda: visits_in(season), {"visits": ("date", "box")}
    )
    return made
