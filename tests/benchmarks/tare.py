"""Measure the rule on gross, bag and net: slips of known kinds put into invented clean seasons.

Run by hand: ``python tests/benchmarks/tare.py [seasons]``. The slips are made here on digit strings, apart
from the audit's own arithmetic. For comparison, simulated triples with one slip each, weighed in the bag of
their siblings in 90 % (computed elsewhere, channel known): best candidate right in 90-92 %; 76-79 % offered
at a posterior above 0.99, of which 99.9 % right.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from invented import Row, Style, invented_season
from typed_season import ask, typed_season

from audit.declarations import load_declarations
from audit.rules.tare import RULE

MASSES = ("gross_g", "bag_g", "net_g")
DECLARED = load_declarations()
STYLES = {
    "as invented": Style(),
    "balance of 0.1 g": Style(step_g=0.1),
    "heavy birds, any bag": Style(heavy=1.2, bag_g=(10.0, 60.0)),
    "small team, few boxes": Style(boxes=12, ringers=("AB", "IP")),
}


def _retype(rng: np.random.Generator, value: float, kind: str) -> float | None:
    text = f"{value:.10g}"
    places = [i for i, sign in enumerate(text) if sign.isdigit()]
    if kind == "one digit":
        at = int(rng.choice(places))
        other = str(rng.choice([d for d in "0123456789" if d != text[at]]))
        typed = text[:at] + other + text[at + 1 :]
    elif kind == "neighbours":
        pairs = [i for i in places if i + 1 in places and text[i] != text[i + 1]]
        if not pairs:
            return None
        at = int(rng.choice(pairs))
        typed = text[:at] + text[at + 1] + text[at] + text[at + 2 :]
    elif kind == "digit lost":
        at = int(rng.choice(places))
        typed = text[:at] + text[at + 1 :]
    elif kind == "digit doubled":
        at = int(rng.choice(places))
        typed = text[:at] + text[at] + text[at:]
    else:
        typed = f"{value * (10 if rng.random() < 0.5 else 0.1):.10g}"
    if typed in ("", ".") or typed.startswith("0"):
        return None
    return None if float(typed) == value else float(typed)


def plant(rng: np.random.Generator, rows: list[Row], share: float) -> dict[int, tuple[str, dict[str, float]]]:
    """Put one slip into a share of the rows; return what was meant, by row and column."""
    planted: dict[int, tuple[str, dict[str, float]]] = {}
    for i, row in enumerate(rows):
        if rng.random() > share:
            continue
        true = {field: float(row[field]) for field in MASSES}
        kind = str(
            rng.choice(
                [
                    "one digit",
                    "neighbours",
                    "digit lost",
                    "digit doubled",
                    "out by ten",
                    "not subtracted",
                    "twice",
                    "added",
                    "copied from above",
                    "exchanged",
                ],
                p=[0.46, 0.08, 0.05, 0.04, 0.05, 0.12, 0.05, 0.03, 0.08, 0.04],
            )
        )
        change: dict[str, float | None] = {}
        if kind == "not subtracted":
            change = {"net_g": true["gross_g"]}
        elif kind == "twice":
            change = {"net_g": true["gross_g"] - 2 * true["bag_g"]}
        elif kind == "added":
            change = {"net_g": true["gross_g"] + true["bag_g"]}
        elif kind == "exchanged":
            one, two = [("gross_g", "bag_g"), ("bag_g", "net_g")][int(rng.integers(2))]
            change = {one: true[two], two: true[one]}
        elif kind == "copied from above":
            field = str(rng.choice(MASSES))
            change = {field: float(rows[i - 1][field]) if i else None}
        else:
            field = str(rng.choice(MASSES))
            change = {field: _retype(rng, true[field], kind)}
        if any(value is None or round(value, 1) == true[field] for field, value in change.items()):
            continue
        planted[i] = (kind, {field: true[field] for field in change})
        row.update({field: round(float(value or 0), 2) for field, value in change.items()})
    return planted


def measure(style: Style, seasons: int, share: float) -> Counter[str]:
    """Count what became of the slips."""
    counts: Counter[str] = Counter()
    for seed in range(seasons):
        season = invented_season(seed + 500, style)
        rng = np.random.default_rng(seed)
        planted = plant(rng, season["handlings"], share)
        answers = ask(RULE, typed_season(DECLARED, **season), DECLARED)
        findings: dict[int, Any] = {}
        for answer in answers:
            if answer.severity != "note":
                row = answer.suspects[0].cell.row - 2
                findings[row] = answer
        for i, (kind, true) in planted.items():
            counts["planted"] += 1
            counts[f"{kind}: planted"] += 1
            found = findings.get(i)
            if found is None:
                continue
            counts["found"] += 1
            counts[f"{kind}: found"] += 1
            first = max(found.suspects, key=lambda suspect: suspect.p_error)
            right = first.cell.field in true
            exact = right and abs(float(first.suggested or "nan") - true[first.cell.field]) < 0.05
            counts["right cell first"] += right
            counts["right cell named"] += any(s.cell.field in true for s in found.suspects)
            counts[f"{kind}: right cell"] += right
            counts["right value first"] += exact
            sure = (first.p_fix or 0) > 0.99
            counts["offered at 0.99"] += sure
            counts["wrong at 0.99"] += sure and not exact
            for suspect in found.suspects:
                counts[f"p {suspect.p_error:.1f}: cells"] += 1
                counts[f"p {suspect.p_error:.1f}: wrong"] += suspect.cell.field in true
                counts["innocent cells in a broken row"] += suspect.cell.field not in true
        counts["innocent rows blamed"] += len(set(findings) - set(planted))
        counts["innocent rows"] += len(season["handlings"]) - len(planted)
    return counts


def say(text: str) -> None:
    """Write one line."""
    sys.stdout.write(f"{text}\n")


def main() -> None:
    """Print one table per style."""
    seasons = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    for share in (0.02, 0.15):
        for name, style in STYLES.items():
            counts = measure(style, seasons, share)
            n = counts["planted"]
            say(f"\n{name}, {share:.0%} of rows with a slip: {n} slips")
            for what in (
                "found",
                "right cell named",
                "right cell first",
                "right value first",
                "offered at 0.99",
            ):
                say(f"  {what:<20} {counts[what] / n:6.1%}")
            say(f"  wrong at 0.99        {counts['wrong at 0.99']} of {counts['offered at 0.99']}")
            say(f"  innocent rows blamed {counts['innocent rows blamed']} of {counts['innocent rows']}")
            say(f"  innocent cells named in broken rows {counts['innocent cells in a broken row']}")
            for key in sorted(key for key in counts if key.endswith(": planted")):
                kind = key.removesuffix(": planted")
                say(
                    f"    {kind:<20} {counts[key]:5d}  found {counts[f'{kind}: found'] / counts[key]:6.1%}"
                    f"  right cell {counts[f'{kind}: right cell'] / counts[key]:6.1%}"
                )
            line = "  calibration, p_error: "
            for tenth in range(11):
                cells = counts[f"p {tenth / 10:.1f}: cells"]
                if cells:
                    share_wrong = counts[f"p {tenth / 10:.1f}: wrong"] / cells
                    line += f"{tenth / 10:.1f} -> {share_wrong:.2f} (n {cells})  "
            say(line)
    large = invented_season(1, Style(boxes=760))
    season = typed_season(DECLARED, **large)
    began = time.perf_counter()
    ask(RULE, season, DECLARED)
    say(f"\n{len(large['handlings'])} handlings: {time.perf_counter() - began:.3f} s")


if __name__ == "__main__":
    main()
