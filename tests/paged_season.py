"""A clean season kept page by page: six broods, each met twice; and what a slide makes of a column."""

from __future__ import annotations

import datetime as dt

DAY = dt.date(2026, 6, 13)
SIZES = (4, 5, 6, 5, 4, 6)


def season_rows():
    """Six broods, three on each of two days, and all of them again two weeks later, in another order."""
    rows, number = [], 0
    for turn, days in ((1, (0, 0, 0, 7, 7, 7)), (2, (14, 14, 14, 21, 21, 21))):
        clock = {}
        for brood, (size, day) in enumerate(zip(SIZES, days, strict=True)):
            birds = list(range(size)) if turn == 1 else [*range(1, size, 2), *range(0, size, 2)]
            minute = clock.get(day, 540) + 30
            for bird in birds:
                minute += 5
                name = sum(SIZES[:brood]) + bird
                wing = 150 - 14 * bird + 3 * brood + (70 if turn == 2 else 0)
                bag = 20 + (name * 7 + turn) % 9
                net = 300 - 9 * bird + (name * 13) % 11 + 20 * turn
                rows.append(
                    {
                        "date": DAY + dt.timedelta(days=day),
                        "time": f"{minute // 60:02d}:{minute % 60:02d}",
                        "box": f"SL-{brood + 1:02d}",
                        "species": "barn_owl",
                        "ring": f"SV{1001 + name:05d}",
                        "tag": f"{999104000000101 + (name * 7919) % 1000}",
                        "age": "1",
                        "event": "ringed" if turn == 1 else "re-encountered",
                        "gross_g": float(net + bag),
                        "bag_g": float(bag),
                        "net_g": float(net),
                        "wing_mm": float(wing),
                    }
                )
                number += 1
            clock[day] = minute
    return sorted(rows, key=lambda row: row["date"])


def reads_of(rows):
    return [
        {
            "read_at": dt.datetime.combine(row["date"], dt.time.fromisoformat(row["time"]))
            + dt.timedelta(seconds=40),
            "tag": row["tag"],
        }
        for row in rows
        if row["tag"]
    ]


def slid(rows, field, first, last, how):
    """Type a column with a slide over rows `first` to `last`, as `how` says: which way, and what is left."""
    way, _, left = how.partition(" ")
    texts = [row[field] for row in rows[first : last + 1]]
    odd = None if left == "empty" else texts[0 if way == "down" else -1]
    moved = [odd, *texts[:-1]] if way == "down" else [*texts[1:], odd]
    return [
        {**row, field: moved[i - first] if first <= i <= last else row[field]} for i, row in enumerate(rows)
    ]
