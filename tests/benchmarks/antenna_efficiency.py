"""How near the told efficiency of antennas is to the true one, and how often its interval holds it.

Logs are those of `simulated_health`, which shares no code with the models: each antenna of each box hears a
crossing with a chance of its own. Told are the share by crossings that the other antenna heard
(``antenna_efficiency.csv``) and that by turns (``antenna_health.csv``).

    python tests/benchmarks/antenna_efficiency.py [--seeds 991000 60]
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from simulated_health import invent, random_habits

from audit.declarations import load_declarations
from audit.models.antenna_health import AWAKE, health
from audit.models.health_beliefs import HealthBeliefs
from audit.models.paired_antennas import paired
from audit.models.passages import Limits, passages_and_crossings
from audit.models.reads import INNER, OUTER

_SETTINGS = load_declarations().settings
BELIEFS = HealthBeliefs(
    **{one.name: _SETTINGS[f"antennas.health.{one.name}"].value for one in fields(HealthBeliefs)}
)
LIMITS = Limits(**{one.name: _SETTINGS[f"antennas.passages.{one.name}"].value for one in fields(Limits)})


def told(seed: int) -> list[tuple[float, ...]]:
    """Looks a trip, spread between tags, true, told by pairs, by turns, whether the interval holds it."""
    habits = random_habits(np.random.default_rng(seed))
    made = invent(seed, habits)
    spells = health(made.reads, BELIEFS, markers=made.markers, span=made.span)
    _, crossed = passages_and_crossings(made.reads, spells, LIMITS)
    rows = []
    for box, pair in paired(crossed, 0.95).items():
        for side, share in ((OUTER, pair.outer_share), (INNER, pair.inner_share)):
            true = made.efficiency[box, side]
            mine = (spells.box == box) & (spells.antenna == side) & (spells.state == AWAKE)
            by_turns = float(spells.efficiency[mine].mean()) if mine.any() else float("nan")
            holds = share.low <= true <= share.high
            rows.append((habits.looks, habits.tags_differ, true, share.value, by_turns, float(holds)))
    return rows


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--seeds", type=int, nargs=2, default=[991000, 60], help="first seed, and how many")
    first, many = asked.parse_args().seeds
    rows = np.array([row for seed in range(first, first + many) for row in told(seed)])
    looks, differ = rows[:, 0], rows[:, 1]
    kinds = {
        "all": looks >= 0,
        "fewer than one look a trip, tags alike": (looks < 1) & (differ == 0),
        "fewer than one look a trip, tags differ": (looks < 1) & (differ > 0),
        "one look a trip and more": looks >= 1,
    }
    print(
        "antennas; error of pairs (mean, root of mean square), of turns; the 95 % interval holds the true one"
    )
    for name, of in kinds.items():
        if of.any():
            errors = [rows[of, column] - rows[of, 2] for column in (3, 4)]
            words = [f"{np.nanmean(e):+.3f} {np.sqrt(np.nanmean(e**2)):.3f}" for e in errors]
            print(f"{name:42} {of.sum():4} {words[0]}  {words[1]}  {rows[of, 5].mean():.2f}")


if __name__ == "__main__":
    main()
