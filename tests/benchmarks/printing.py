"""Figures as text for a person at a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchmarks.trials import Trial

__all__ = ["print_figures", "print_misses"]

Record = dict[str, Any]


def _f(value: float | None, places: int = 3) -> str:
    return "-" if value is None else f"{value:.{places}f}"


def print_figures(figures: Record) -> None:
    """Print all tables."""
    print(f"seasons {figures['seasons']}, rows {figures['rows']}, refused {len(figures['refused'])}")
    print(f"odd texts that were read as they were meant, and so are no slips: {figures['read as meant']}")
    for line in figures["refused"][:5]:
        print("   refused:", *line)
    for fault in figures["faults"][:10]:
        print("   FAULT", fault)
    print("\nHEADLINE")
    _headline(figures)
    for title in (
        "by source",
        "by generator",
        "by variant",
        "by rate",
        "by field",
        "by size in units",
        "by size in SD",
        "by kind",
        "by witness",
    ):
        _slip_table(title, figures[title])
    _calibration(figures)
    _rules("RULES", figures["rules"])
    _rules("NOTES", figures["note rules"])
    print("\nSOURCES of what is lost among visible slips, and of innocent cells")
    for title, counts in figures["sources"].items():
        print(f"  {title}: {sum(counts.values())}")
        for name, number in counts.items():
            print(f"     {number:>4}  {name}")
    _outliers(figures["outliers"])
    print("\nINNOCENT ROWS by variant, then by team where there are any")
    for name, line in (*figures["innocent by variant"].items(), *figures["innocent by team"].items()):
        print(f"  {name:<26}{line['bothered']:>5} of {line['rows']:>7}  {_f(line['per 1,000'], 2)} per 1,000")
    print("\nDECLARED INVISIBLE: kind, number, of which invisible, found all the same, why, in which variant")
    for kind, line in figures["invisible kinds"].items():
        print(
            f"  {kind:<28}{line['n']:>5}{line['invisible']:>5}{line['found all the same']:>5}  {line['why']}"
        )
        print(f"  {'':<28}{'':>15}  {line['variants']}")
    print("\nRIVALS on the same seasons")
    for name, line in figures["rivals"].items():
        print(
            f"  {name:<18} recall {_f(line['recall'])} (n {line['n']}), visible {_f(line['recall_visible'])} "
            f"(n {line['n_visible']}), by row {_f(line['recall by row'])}, precision {_f(line['precision'])} "
            f"(n {line['cells blamed']}), innocent rows per 1,000 {_f(line['innocent rows per 1,000'], 2)}"
        )
    print(f"\naudit: {_f(figures['audit seconds per 500 rows'])} s per 500 rows, in seasons of all sizes")


def _headline(figures: Record) -> None:
    names = ("all", "visible", "visible, not omitted", "visible, readable", "visible in the six", "invisible")
    for name in names:
        line = figures[name]
        print(
            f"  {name + ' slips':<26} n {line['n']:>5}  found {_f(line['recall'])}  "
            f"right cell first {_f(line['right_cell'])} (of touched {_f(line['right_cell_of_touched'])})  "
            f"first suggestion right {_f(line['first_right'])} "
            f"(of found {_f(line['first_right_of_found'])})  "
            f"wholly mended {_f(line['mended'])}"
        )
    precision, dirty = figures["precision"], figures["precision"]["with slips"]
    print(
        f"  precision by cell {_f(precision['precision'])} (n {precision['n']}; "
        f"seasons with slips {_f(dirty['precision'])}, n {dirty['n']}; "
        f"cells blamed in clean seasons {precision['clean cells blamed']})"
    )
    for name, line in figures["bothered"].items():
        print(
            f"  innocent rows bothered per 1,000, {name}: {_f(line['per 1,000'], 2)} "
            f"({line['bothered']} of {line['rows']})"
        )
    told, fixes = figures["calibration"], figures["suggestions"]
    print(
        f"  calibration error of p_error {_f(told['error (10 bins)'])} (10 bins), "
        f"{_f(told['error (20 bins)'])} (20 bins), n {told['n']}; notes {_f(told['notes (10 bins)'])}, "
        f"n {told['notes n']}"
    )
    print(
        f"  suggestions right {_f(fixes['right'])} (n {fixes['n']}); calibration error of p_fix "
        f"{_f(fixes['error (10 bins)'])} (10), {_f(fixes['error (20 bins)'])} (20); "
        f"with p_fix >= .99 right {_f(fixes['sure share right'], 4)} (n {fixes['sure n']})"
    )


def _slip_table(title: str, table: Record) -> None:
    print(f"\nSLIPS {title}")
    print(
        f"  {'':<30}{'n':>6}{'found':>8}{'n vis.':>8}{'found':>8}{'right c.':>9}{'1st right':>10}"
        f"{'1st r. of found':>16}"
    )
    for name, line in table.items():
        print(
            f"  {name:<30}{line['n']:>6}{_f(line['recall']):>8}{line['n_visible']:>8}"
            f"{_f(line['recall_visible']):>8}{_f(line['right_cell']):>9}{_f(line['first_right']):>10}"
            f"{_f(line['first_right_of_found']):>16}"
        )


def _calibration(figures: Record) -> None:
    for title, table in (
        ("p_error, above notes", figures["calibration"]["table"]),
        ("p_error, notes", figures["calibration"]["notes table"]),
        ("p_fix", figures["suggestions"]["table"]),
    ):
        print(f"\nRELIABILITY of {title}")
        for line in table:
            print(
                f"  {line['low']:.2f} to {line['high']:.2f}{line['n']:>7}  said {line['said']:.3f}  "
                f"seen {line['seen']:.3f}"
            )
    for name in ("source", "generator", "variant"):
        parts = figures["calibration"][f"by {name}"]
        print(f"  by {name}: " + ", ".join(f"{k} {_f(v['error'])} (n {v['n']})" for k, v in parts.items()))


def _outliers(table: Record) -> None:
    print(
        "\nGROWTH OUTLIERS, moved by so many SD of the size at its age; specificity "
        f"{_f(table['specificity'], 5)} ({table['blamed']} of {table['innocent sizes']} innocent sizes)"
    )
    print(
        "  who knew the growth of these seasons perfectly, but not the age, would find of 4 SD and more at "
        f"specificity .995: wings {_f(table['ceiling']['wing'])}, masses {_f(table['ceiling']['mass'])}"
    )
    lines = [("4 SD and more", table["4 SD and more"])]
    lines += [(f"4 SD and more, {name}", line) for name, line in table["by generator"].items()]
    lines += list(table["all"].items())
    lines += [(f"one visit, {kind}", line) for kind, line in table["one visit"].items()]
    lines += [(f"off by {distance} SD", line) for distance, line in table["by distance"].items()]
    for name, line in lines:
        print(
            f"  {name:<26} n {line['n']:>4}  found {_f(line['recall'])}  beyond 4 SD of what the rest of the "
            f"brood tells {line['n_visible']:>4}, found {_f(line['recall_visible'])}"
        )


def _rules(title: str, rules: Record) -> None:
    print(f"\n{title}, those furthest off first: p_error said and seen, innocent rows bothered, suggestions")
    for rule, line in rules.items():
        print(
            f"  {rule:<32}{line['n']:>5}  said {line['said']:.2f} seen {line['seen']:.2f} "
            f"off by {line['cells off']:>6.1f} cells, bothers {line['bothers']:>3}; fixes {line['fixes']:>4} "
            f"said {_f(line['fix_said'], 2)} seen {_f(line['fix_seen'], 2)}; "
            f"sure {line['sure']:>4}, wrong {line['sure_wrong']}"
        )


def print_misses(trials: Sequence[Trial]) -> None:
    """List what others can mend: seed, team, variant, source, row, field, typed, true, what was blamed."""
    _print_missed("MISSED although visible", [trial for trial in trials if not _moved(trial)])
    _print_missed("OUTLIERS MISSED although visible", [trial for trial in trials if _moved(trial)])
    slips = [slip for trial in trials if not _moved(trial) for slip in trial.slips]
    print("\nWRONG CELL FIRST")
    for slip in slips:
        if slip["touched"] and not slip["right_cell"]:
            print(_where(slip), "| blamed:", slip["blamed"][:3])
    print("\nWRONG FIRST SUGGESTION, cell right")
    for slip in slips:
        if slip["right_cell"] and not slip["first_right"]:
            print(_where(slip), "| blamed:", slip["blamed"][:2])
    print("\nINNOCENT CELLS BLAMED")
    cells = [cell for trial in trials for cell in trial.cells if not cell["wrong"]]
    for cell in sorted(cells, key=lambda c: (not c["row_innocent"], c["rule"])):
        row = "innocent row" if cell["row_innocent"] else "row of a slip"
        print(
            f"  {cell['seed']} {cell['team']} / {cell['variant']} / {cell['source']} {cell['place']}:"
            f"{cell['field']} {cell['observed']!r} ({row}) {cell['rule']} p {cell['p_error']:.2f}: "
            f"{cell['message']}"
        )
    print("\nSURE SUGGESTIONS THAT ARE WRONG")
    for cell in (c for trial in trials for c in trial.cells):
        if cell["p_fix"] is not None and cell["p_fix"] >= 0.99 and not cell["fix_right"]:
            print(
                f"  {cell['seed']} {cell['team']} / {cell['variant']} / {cell['source']} {cell['place']}:"
                f"{cell['field']} {cell['observed']!r} -> {cell['suggested']!r}, true {cell['true']!r} "
                f"{cell['rule']}: {cell['message']}"
            )


def _moved(trial: Trial) -> bool:
    return trial.task.source == "outliers"


def _print_missed(title: str, trials: Sequence[Trial]) -> None:
    print(f"\n{title}")
    for slip in (slip for trial in trials for slip in trial.slips):
        if slip["visible"] and not slip["found"]:
            print(_where(slip), slip["why"], "| blamed:", slip["blamed"][:2] or "nothing")


def _where(slip: Record) -> str:
    cells = "; ".join(
        f"row {row} {field} {typed!r} for {true!r}" for row, field, typed, true in slip["cells"][:3]
    )
    return (
        f"  {slip['seed']} {slip['team']} / {slip['variant']} / {slip['source']} {slip['rate']} "
        f"{slip['kind']}: {cells};"
    )
