"""All relations of an archive asked in one order, on any engine: which rows are to be looked at, and why."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any

from audit.archive.laid_out import unread_name
from audit.archive.odd_company import odd_days, odd_forms, odd_orders, odd_places
from audit.archive.repeated_rows import likely_repeated, repeated
from audit.archive.ring_lives import doubtful_rings, met_again, ring_clashes, ringing_habits
from audit.archive.row_checks import breaches, cell_checks, unread
from audit.archive.sizes import SieveLimits, odd_sizes
from audit.archive.sums import broken_sums, missed_sums, slight_teams
from audit.archive.tag_lives import doubtful_tags, tag_clashes
from audit.archive.travels import PLACED, far_clashes, on_the_globe
from audit.archive.yardsticks import yardsticks_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import pandas as pd
    from narwhals import LazyFrame

    from audit.archive.engine import Engine
    from audit.archive.laid import Laid
    from audit.declarations import Declarations

    #: What is asked now, how many questions are answered, of how many.

__all__ = ["REASONS", "Sieved", "sieve", "sieve_limits"]

#: Why a row of `Sieved.rows` is there.
REASONS = ("unread", "declared", "tare", "growth", "form", "place", "order", "days")
_QUESTIONS = 8


@dataclass(frozen=True, slots=True)
class Sieved:
    """What the relations of an archive found.

    Attributes
    ----------
    rows : pandas.DataFrame
        ``at`` and ``reason`` (one of `REASONS`) of each row that a season's rules have to be asked about,
        sorted.
    cells : pandas.DataFrame
        ``at``, ``field``, ``check`` of each cell that breaks its declaration, sorted.
    clashes : pandas.DataFrame
        ``rule``, ``at``, ``other`` of each row that contradicts another one, sorted.
    handlings : pandas.DataFrame
        ``season``, ``scheme``, ``team`` and how ``many`` rows each has, sorted.
    """

    rows: pd.DataFrame
    cells: pd.DataFrame
    clashes: pd.DataFrame
    handlings: pd.DataFrame


def sieve(
    engine: Engine,
    laid: Laid,
    marks: LazyFrame[Any],
    declared: Declarations,
    places: pd.DataFrame | None,
    tell: Callable[[str], None],
) -> Sieved:
    """Ask all relations of an archive.

    Parameters
    ----------
    engine : Engine
        That holds the archive.
    laid : Laid
    marks : narwhals.LazyFrame
        From `laid.lay_out`.
    declared : Declarations
    places : pandas.DataFrame or None
        ``scheme``, ``team``, ``box``, ``latitude``, ``longitude``, where a table of boxes was given.
    tell : callable
        Is told what is asked now, by its number.
    """
    import narwhals as nw

    number_of = count(1)

    def ask(what: str) -> None:
        tell(f"{next(number_of)} of {_QUESTIONS}: {what}")

    ask("Does every cell keep to its declaration?")
    unread_cells, broken = _cells(engine, laid)
    ask("Do gross, bag and net agree?")
    sums = _sums(engine, laid.rows, declared)
    many = engine.frame(marks.group_by("season", "scheme", "team").agg(nw.len().alias("many")))
    ask("Does a row stand twice?")
    told = engine.keep(met_again(marks), "met_again")
    likely = likely_repeated(told.select("at", "scheme", "ring", "box", nw.col("day").alias("date")))
    twice = engine.keep(
        repeated(laid.some(engine.keep(likely.select("at"), "likely")), laid.table), "repeated"
    )
    clashes = [engine.frame(twice)]
    once, again = (of.join(twice.select("at"), on="at", how="anti") for of in (marks, told))
    ask("Is one ring one bird, over the years?")
    number = _numbers(declared)
    days = number("identity.nestling_days")
    few = engine.keep(doubtful_rings(again, nestling_days=days), "doubtful_rings")
    habits = engine.keep(
        ringing_habits(again, share=number("identity.habit_share"), least=number("identity.habit_rows")),
        "habits",
    )
    clashes.append(engine.frame(ring_clashes(few, habits, nestling_days=days)))
    if places is not None and len(places):
        there = engine.table(_placed(places, number("identity.radius_km")), "places")
        clashes.append(engine.frame(far_clashes(few, there, km_a_day=number("identity.km_a_day"))))
    ask("Is one tag one bird, over the years?")
    clashes.append(engine.frame(tag_clashes(few, engine.keep(doubtful_tags(once), "doubtful_tags"))))
    ask("Do wings and masses fit species, population and brood?")
    odd = _sizes(engine, marks, again, declared)
    ask("Are rings, tags and legs like those of the team?")
    forms = odd_forms(engine, laid, once, declared)
    ask("Do rows go together with their visit and season?")
    places_off = odd_places(engine, laid, once, again, few, declared)
    orders = odd_orders(engine, once, declared)
    days_off = odd_days(engine, once, declared)
    found = (unread_cells, broken, sums, odd, forms, places_off, orders, days_off)
    reasons = zip(REASONS, found, strict=True)
    return _sieved(dict(reasons), clashes, many)


def sieve_limits(declared: Declarations) -> SieveLimits:
    """Take the numbers of the sieve out of the declarations."""
    number = _numbers(declared)
    return SieveLimits(**{name: number(f"sieve.{name}") for name in SieveLimits.__dataclass_fields__})


def _sums(engine: Engine, rows: LazyFrame[Any], declared: Declarations) -> pd.DataFrame:
    import narwhals as nw

    tare = declared.rules["tare"].limits
    share, least = (float(tare[f"rounding_habit_{name}"].value) for name in ("share", "rows"))
    missed = engine.keep(missed_sums(rows), "missed_sums")
    if engine.frame(slight_teams(missed, habit_rows=least)).empty:
        rows = rows.filter(nw.col("at").is_null())
    return engine.frame(broken_sums(missed, rows, habit_share=share, habit_rows=least))


def _cells(engine: Engine, laid: Laid) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Find cells that could not be read, and those that break their declaration."""
    unread_cells = _long(
        engine.frame(unread(laid.rows, laid.table)),
        {unread_name(name): (name, "read") for name in laid.table.names},
    )
    there = list(laid.raw.stored) if laid.typed else None
    checks = cell_checks(laid.table, present=there, known=laid.known, as_stored=laid.typed)
    broken = engine.frame(breaches(laid.raw.rows if laid.typed else laid.rows, checks))
    return unread_cells, _long(broken, {check.name: (check.field, check.check) for check in checks})


def _sizes(
    engine: Engine, marks: LazyFrame[Any], again: LazyFrame[Any], declared: Declarations
) -> pd.DataFrame:
    sticks = yardsticks_of(
        declared.species,
        margin=float(declared.rules["growth"].limits["margin"].value),
        sibling_days=float(declared.rules["growth"].limits["age_within_sd"].value),
    )
    by_wing, by_age, by_kind = (
        engine.table(getattr(sticks, name), name) for name in ("by_wing", "by_age", "by_kind")
    )
    limits = sieve_limits(declared)
    return engine.frame(odd_sizes(marks, again, by_wing, by_age, by_kind, limits, engine.keep))


def _numbers(declared: Declarations) -> Callable[[str], float]:
    return lambda name: float(declared.settings[f"archive.{name}"].value)


def _placed(places: pd.DataFrame, radius_km: float) -> pd.DataFrame:
    there = on_the_globe(places["latitude"], places["longitude"], radius_km)
    axes = {axis: there[:, number] for number, axis in enumerate("xyz")}
    return places.assign(**axes)[list(PLACED)]


def _long(wide: pd.DataFrame, names: Mapping[str, tuple[str, str]]) -> pd.DataFrame:
    """Turn one column for each check into one line for each broken one."""
    import pandas as pd

    parts = [
        pd.DataFrame({"at": wide.loc[wide[column].astype(bool), "at"], "field": field, "check": check})
        for column, (field, check) in names.items()
        if column in wide.columns
    ]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=["at", "field", "check"])


def _sieved(found: Mapping[str, pd.DataFrame], clashes: Sequence[pd.DataFrame], many: pd.DataFrame) -> Sieved:
    import pandas as pd

    rows = pd.concat([of[["at"]].assign(reason=reason) for reason, of in found.items()], ignore_index=True)
    cells = pd.concat([found["unread"], found["declared"]], ignore_index=True)
    pairs = pd.concat(clashes, ignore_index=True)
    return Sieved(
        _sorted(rows, ["at", "reason"]),
        _sorted(cells, ["at", "field", "check"]),
        _sorted(pairs, ["at", "rule", "other"]),
        many.sort_values(["season", "scheme", "team"], ignore_index=True),
    )


def _sorted(frame: pd.DataFrame, columns: list[str]) -> pd.DataFrame:
    whole = {name: "int64" for name in ("at", "other") if name in frame.columns}
    return frame.drop_duplicates().astype(whole).sort_values(columns, ignore_index=True)
