"""What a field sheet cannot show, whatever the audit, and which column or file would show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.season import Season

__all__ = ["blind_spots"]


def blind_spots(season: Season) -> tuple[str, ...]:
    """Tell in plain sentences what this season cannot show.

    Parameters
    ----------
    season : Season
        Its columns and tables are looked at, not its values, but for birds handled once.

    Returns
    -------
    tuple of str
        One sentence each; some hold for every season.
    """
    return tuple(_told(season))


def _told(season: Season) -> Iterator[str]:
    def filled(table: str, *fields: str) -> bool:
        return season.has(table, *fields) and all(season.frame(table)[name].notna().any() for name in fields)

    has_net, has_sum = filled("handlings", "net_g"), filled("handlings", "gross_g", "bag_g")
    if has_net and not has_sum:
        yield (
            "Net mass alone hides a bag that was not subtracted, or was subtracted twice: write gross and "
            "bag, too."
        )
    if has_sum:
        yield (
            "A balance misread by a few grams and carried through to the net agrees with its own arithmetic: "
            "only a second weighing shows it."
        )
    if has_sum and not has_net:
        yield "Gross and bag without the net leave nothing to add up: write the net, too."
    if (has_net or has_sum) and not filled("handlings", "wing_mm"):
        yield "Without a wing a mass can only be held against what the species may weigh: measure the wing."
    if filled("handlings", "tag"):
        yield from _about_tags(filled("tag_reads", "tag"), filled("tag_stock", "tag"))
    if not filled("ring_stock", "first", "last"):
        yield (
            "Without the strings of rings as issued, a wrong digit that makes another ring of the round is "
            "told by its neighbours only: add a sheet ring_stock."
        )
    yield from _about_visits(season)
    if not filled("handlings", "brood_size"):
        yield "Without the number of live young a bird in the wrong box may pass: write the brood size."
    if not filled("visits", "date", "box"):
        yield "Without a list of visits a date moved to another field day may pass: add a sheet visits."
    yield (
        "A value misread in the field and typed faithfully, a few millimetres of wing or a digit within what "
        "siblings differ by, leaves no trace in any sheet: measure twice where it matters."
    )


def _about_tags(has_reads: bool, has_stock: bool) -> Iterator[str]:
    if not has_reads:
        yield (
            "Without a download of the hand reader a tag that is typed once cannot be held against what was "
            "read: give it with --reads."
        )
    if not has_stock:
        yield "Without a list of the tags in hand a mistyped tag looks like a new one: add a sheet tag_stock."


def _about_visits(season: Season) -> Iterator[str]:
    rings = season.frame("handlings")["ring"].dropna().value_counts()
    once = int((rings == 1).sum())
    if once:
        yield (
            f"{once:,} of {len(rings):,} birds were handled once: two tags or two wings exchanged between "
            "such siblings look as good as the truth, and a second visit would show it."
        )
