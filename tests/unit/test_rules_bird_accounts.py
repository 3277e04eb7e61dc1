"""What accounts for the measures of many birds at once is what accounts for each of them alone."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from typed_season import typed_season

from audit.rules.birds import birds_of
from audit.rules.case import Case
from audit.rules.growth_accounts import accounts_of
from audit.rules.species_outlook import species_outlook

if TYPE_CHECKING:
    from audit.declarations import Declarations

#: Nestlings of two broods and a full-grown bird, some measures missing, one mass ten times too large.
ROWS = [
    ("SL-01", "1", "", 210.0, 340.0, None),
    ("SL-01", "1", "", 198.0, 3250.0, 40),
    ("SL-01", "1", "", None, 330.0, None),
    ("SL-02", "1", "", 120.0, 280.0, 28),
    ("SL-02", "4", "F", 290.0, 340.0, None),
    ("SL-02", "", "", 140.0, None, None),
]
SEASON = typed_season(
    handlings=[
        {
            "date": "2026-06-06",
            "box": box,
            "ring": f"SV0{1000 + i}",
            "species": "barn owl" if i % 3 else "kestrel",
            "age": age,
            "sex": sex,
            "wing_mm": wing,
            "net_g": net,
            "age_days": days,
        }
        for i, (box, age, sex, wing, net, days) in enumerate([*ROWS, *ROWS])
    ]
)


def test_birds_asked_together_are_weighed_as_each_alone(declared: Declarations) -> None:
    owl = declared.species["barn_owl"]
    # no shipped species has sizes by sex
    sexed = replace(owl, adult={**owl.adult, ("F", "mass_g"): owl.adult["", "mass_g"]})
    declared = replace(declared, species={**declared.species, "barn_owl": sexed})
    case = Case(SEASON, declared, declared.rules["growth"])
    birds = birds_of(case, fallback="barn_owl")
    outlooks = {
        slug: species_outlook(case, slug, birds.of(np.flatnonzero(birds.slug == slug)))
        for slug in dict.fromkeys(birds.slug.tolist())
    }
    channel = declared.slips.channel()
    kinds = set()
    for outlook in outlooks.values():
        rows = list(range(len(outlook.birds.wing)))
        together = accounts_of(case, outlook, outlooks, rows, channel)
        assert together == [accounts_of(case, outlook, outlooks, [row], channel)[0] for row in rows]
        kinds |= {account.cause for accounts in together for account in accounts}
        assert all(accounts[0].cause == "nothing" for accounts in together)
    assert kinds == {"nothing", "wing", "mass", "both", "exchanged", "age", "place", "code", "sex", "species"}
