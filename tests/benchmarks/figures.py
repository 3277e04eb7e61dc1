"""All figures of many trials, as one plain dictionary."""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import TYPE_CHECKING, Any

from benchmarks.scoring import calibration_error, grouped, reliability, share, summed

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from benchmarks.trials import Trial

__all__ = ["SURE", "figures_of"]

#: Suggestions at least so sure count as offered.
SURE = 0.99
#: Ring, tag, mass, wing, date and box: what must be right before a season is handed over.
THE_SIX = frozenset({"ring", "tag", "gross_g", "bag_g", "net_g", "wing_mm", "date", "box"})
#: Beyond it lie 0.5 % of a normal distribution, both sides together.
Z_995 = 2.807
#: So many sources of losses are listed.
MOST = 25
#: Growth outliers from so many standard deviations on ought to be found.
FAR = 4
SIZES = {"gross_g", "bag_g", "net_g", "wing_mm"}
CUTS_SD = (0.5, 1, 2, 3, 4, 6, 8)
CUTS_AWAY = (3, 4, 5, 6, 8, 10, 15)
CUTS_UNITS = (1, 2, 5, 10, 20, 50, 100)

Record = dict[str, Any]


def figures_of(trials: Sequence[Trial]) -> Record:
    """Count everything."""
    outliers = [trial for trial in trials if trial.task.source == "outliers"]
    trials = [trial for trial in trials if trial.task.source != "outliers"]
    slips = [slip for trial in trials for slip in trial.slips]
    visible = [slip for slip in slips if slip["visible"]]
    cells = [cell for trial in trials for cell in trial.cells]
    notes = [cell for trial in trials for cell in trial.notes]
    clean = [trial for trial in trials if trial.task.source == "clean"]
    dirty = [trial for trial in trials if trial.task.source != "clean"]

    def by(key: Callable[[Record], Any], among: list[Record] = slips) -> dict[str, Record]:
        return {
            str(name): {**_both(group)}
            for name, group in sorted(grouped(among, key).items(), key=lambda item: str(item[0]))
        }

    sized = [slip for slip in slips if slip["field"] in SIZES and len(slip["cells"]) == 1]
    return {
        "seeds": sorted({trial.task.seed for trial in trials}),
        "seasons": {"clean": len(clean), "with slips": len(dirty)},
        "rows": {"clean": sum(t.rows for t in clean), "with slips": sum(t.rows for t in dirty)},
        "read as meant": sum(t.read_as_meant for t in trials),
        "refused": [[t.task.seed, t.task.team, t.refused] for t in trials if t.refused],
        "faults": sorted({f"{t.task.team}: {fault}" for t in trials for fault in t.faults}),
        "all": summed(slips),
        "visible": summed(visible),
        "visible, not omitted": summed([slip for slip in visible if not _omitted(slip)]),
        "visible, readable": summed(
            [slip for slip in visible if not _omitted(slip) and not slip["why"].startswith("no ")]
        ),
        "visible in the six": summed([slip for slip in visible if slip["field"] in THE_SIX]),
        "invisible": summed([slip for slip in slips if not slip["visible"]]),
        "precision": {**_precision(cells), **_spots(dirty, clean)},
        "bothered": {
            "clean": _bothered(clean),
            "with slips": _bothered(dirty),
            "both": _bothered(trials),
        },
        "calibration": {
            "error (10 bins)": _ece(cells, 10),
            "error (20 bins)": _ece(cells, 20),
            "notes (10 bins)": _ece(notes, 10),
            "n": len(cells),
            "notes n": len(notes),
            "table": _table(cells, 20),
            "notes table": _table(notes, 10),
            **{
                f"by {name}": {
                    str(value): {"n": len(group), "error": _ece(group, 10)}
                    for value, group in grouped(cells, lambda cell, name=name: cell[name]).items()
                }
                for name in ("source", "generator", "variant")
            },
        },
        "suggestions": _suggestions(cells),
        "by source": by(lambda s: s["source"]),
        "by generator": by(lambda s: s["generator"]),
        "by variant": by(lambda s: s["variant"]),
        "by rate": by(lambda s: s["rate"]),
        "by field": by(lambda s: s["field"]),
        "by kind": by(lambda s: s["kind"]),
        "by witness": by(lambda s: s["why"]),
        "by size in units": by(lambda s: _bin(s["units"], CUTS_UNITS), sized),
        "by size in SD": by(lambda s: _bin(s["sds"], CUTS_SD), sized),
        "innocent by variant": {
            name: _bothered(group) for name, group in grouped(trials, lambda t: t.task.variant).items()
        },
        "innocent by team": {
            name: figures
            for name, figures in (
                (name, _bothered(group)) for name, group in grouped(trials, lambda t: t.task.team).items()
            )
            if figures["bothered"]
        },
        "outliers": _outliers(outliers),
        "sources": _sources(visible, cells),
        "invisible kinds": _invisible(slips),
        "rivals": _rivals(dirty),
        "rules": _rules(cells),
        "note rules": _rules(notes),
        "audit seconds per 500 rows": share(
            500 * sum(t.seconds for t in trials), sum(t.rows for t in trials)
        ),
    }


def _omitted(slip: Record) -> bool:
    return bool(slip["kind"].endswith("omitted"))


def _both(slips: list[Record]) -> Record:
    seen = [slip for slip in slips if slip["visible"]]
    everything, visible = summed(slips), summed(seen)
    return {
        "n": everything["n"],
        "recall": everything["recall"],
        "n_visible": visible["n"],
        "recall_visible": visible["recall"],
        "right_cell": visible["right_cell"],
        "first_right": visible["first_right"],
        "first_right_of_found": everything["first_right_of_found"],
    }


def _bin(value: float | None, cuts: tuple[float, ...]) -> str:
    if value is None:
        return "~ no number"
    low = 0.0
    for cut in cuts:
        if value < cut:
            return f"{low:05.1f} to {cut:05.1f}"
        low = cut
    return f"{low:05.1f} and more"


def _precision(cells: list[Record]) -> Record:
    right = sum(cell["wrong"] for cell in cells)
    return {"n": len(cells), "right": right, "precision": share(right, len(cells))}


def _spots(dirty: list[Trial], clean: list[Trial]) -> Record:
    return {
        "with slips": _precision([cell for trial in dirty for cell in trial.cells]),
        "clean cells blamed": sum(len(trial.cells) for trial in clean),
    }


def _bothered(trials: Sequence[Trial]) -> Record:
    rows = sum(trial.rows - trial.guilty_rows for trial in trials)
    bothered = sum(trial.bothered for trial in trials)
    return {"rows": rows, "bothered": bothered, "per 1,000": share(1000 * bothered, rows)}


def _ece(cells: list[Record], bins: int) -> float | None:
    return calibration_error([c["p_error"] for c in cells], [c["wrong"] for c in cells], bins)


def _table(cells: list[Record], bins: int) -> list[dict[str, float]]:
    return reliability([c["p_error"] for c in cells], [c["wrong"] for c in cells], bins)


def _suggestions(cells: list[Record]) -> Record:
    made = [cell for cell in cells if cell["suggested"] and cell["p_fix"] is not None]
    sure = [cell for cell in made if cell["p_fix"] >= SURE]
    p, right = [cell["p_fix"] for cell in made], [cell["fix_right"] for cell in made]
    return {
        "n": len(made),
        "right": share(sum(right), len(made)),
        "error (10 bins)": calibration_error(p, right, 10),
        "error (20 bins)": calibration_error(p, right, 20),
        "sure n": len(sure),
        "sure share right": share(sum(cell["fix_right"] for cell in sure), len(sure)),
        "table": reliability(p, right, 20),
    }


def _invisible(slips: list[Record]) -> Record:
    table: dict[str, dict[str, Any]] = {}
    for kind, group in sorted(grouped(slips, lambda s: s["kind"]).items()):
        hidden = [slip for slip in group if not slip["visible"]]
        if hidden:
            table[kind] = {
                "n": len(group),
                "invisible": len(hidden),
                "found all the same": sum(slip["found"] for slip in hidden),
                "why": {w: len(g) for w, g in grouped(hidden, lambda s: f"{s['field']}: {s['why']}").items()},
                "variants": {v: len(g) for v, g in grouped(hidden, lambda s: s["variant"]).items()},
            }
    return table


def _sources(visible: list[Record], cells: list[Record]) -> Record:
    """Where the largest losses come from, most first."""
    missed = [slip for slip in visible if not slip["found"]]
    first = [(slip, _first(slip)) for slip in visible if slip["touched"]]
    innocent = [cell for cell in cells if not cell["wrong"]]
    return {
        "missed, by field and witness": _counted(f"{s['field']}: {s['why']}" for s in missed),
        "missed, by kind": _counted(s["kind"] for s in missed),
        "wrong cell first, by rule": _counted(b[0] for s, b in first if not s["right_cell"]),
        "no first suggestion, cell right, by rule": _counted(
            b[0] for s, b in first if s["right_cell"] and not b[3]
        ),
        "wrong first suggestion, cell right, by rule": _counted(
            b[0] for s, b in first if s["right_cell"] and b[3] and not s["first_right"]
        ),
        "innocent cells in innocent rows, by rule": _counted(
            c["rule"] for c in innocent if c["row_innocent"]
        ),
        "innocent cells in rows of a slip, by rule": _counted(
            c["rule"] for c in innocent if not c["row_innocent"]
        ),
    }


def _first(slip: Record) -> tuple[Any, ...]:
    """Return the likeliest blame, as the score takes it."""
    best: tuple[Any, ...] = max(slip["blamed"], key=lambda blame: (blame[4], blame[5] or 0.0))
    return best


def _counted(names: Iterable[str]) -> dict[str, int]:
    return dict(Counter(names).most_common(MOST))


def _outliers(trials: Sequence[Trial]) -> Record:
    slips = [slip for trial in trials for slip in trial.slips]
    sizes, blamed = sum(trial.sizes for trial in trials), sum(trial.sizes_blamed for trial in trials)

    far = [slip for slip in slips if _step(slip) >= FAR]

    def lines(group: list[Record]) -> Record:
        return {kind: _both(part) for kind, part in sorted(grouped(group, lambda s: s["kind"]).items())}

    return {
        "innocent sizes": sizes,
        "blamed": blamed,
        "specificity": None if not sizes else 1 - blamed / sizes,
        "all": lines(slips),
        "one visit": lines([slip for slip in slips if slip["variant"] == "one visit"]),
        "ceiling": {
            what: share(
                sum((slip["away"] or 0) > Z_995 for slip in far if slip["kind"].startswith(what)),
                sum(slip["kind"].startswith(what) for slip in far),
            )
            for what in ("wing", "mass")
        },
        "4 SD and more": _both(far),
        "by distance": {
            f"{what}, {size}": _both(part)
            for what in ("wing", "mass")
            for size, part in sorted(
                grouped(
                    [slip for slip in slips if slip["kind"].startswith(what)],
                    lambda s: _bin(s["away"], CUTS_AWAY),
                ).items()
            )
        },
        "by generator": {
            name: _both([slip for slip in group if _step(slip) >= FAR])
            for name, group in grouped(slips, lambda s: s["generator"]).items()
        },
    }


def _step(slip: Record) -> int:
    return int(str(slip["kind"]).split()[1])


def _rivals(trials: Sequence[Trial]) -> Record:
    total: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    innocent = 0
    for trial in trials:
        if trial.rivals:
            innocent += trial.rows - trial.guilty_rows
        for name, counts in trial.rivals.items():
            for key, value in counts.items():
                total[name][key] += value
    return {
        name: {
            "n": c["slips"],
            "recall": share(c["found"], c["slips"]),
            "n_visible": c["visible"],
            "recall_visible": share(c["found_visible"], c["visible"]),
            "recall by row": share(c["found_row"], c["slips"]),
            "precision": share(c["blamed_wrong"], c["blamed"]),
            "cells blamed": c["blamed"],
            "innocent rows per 1,000": share(1000 * c["bothered"], innocent),
        }
        for name, c in total.items()
    }


def _rules(cells: list[Record]) -> Record:
    table = {}
    for rule, group in grouped(cells, lambda c: c["rule"]).items():
        said = sum(c["p_error"] for c in group) / len(group)
        seen = sum(c["wrong"] for c in group) / len(group)
        fixes = [c for c in group if c["suggested"] and c["p_fix"] is not None]
        sure = [c for c in fixes if c["p_fix"] >= SURE]
        table[rule] = {
            "n": len(group),
            "said": said,
            "seen": seen,
            "cells off": (said - seen) * len(group),
            "bothers": sum(c["row_innocent"] for c in group),
            "fixes": len(fixes),
            "fix_said": share(sum(c["p_fix"] for c in fixes), len(fixes)),
            "fix_seen": share(sum(c["fix_right"] for c in fixes), len(fixes)),
            "sure": len(sure),
            "sure_wrong": sum(not c["fix_right"] for c in sure),
        }
    return dict(sorted(table.items(), key=lambda item: -abs(item[1]["cells off"])))
