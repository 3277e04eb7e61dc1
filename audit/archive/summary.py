"""What was found in an archive, in a page of plain text and as JSON."""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING

from audit.findings import SEVERITIES
from audit.handover.terminal import on_one_line, wrapped
from audit.intake.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.archive.audited import Audited
    from audit.archive.tally import First
    from audit.declarations import Declarations

__all__ = ["FORMAT", "VERSION", "headline", "how_asked", "summary_json", "summary_text", "team_rows", "whose"]

#: Name and version of the JSON form; the version changes only when a key changes its meaning.
FORMAT = "nestproof-archive"
VERSION = 1
_WIDTH = 100
#: Findings, teams and boxes told of in the text; the page has more.
_FIRST, _TEAMS, _BOXES = 8, 30, 10


def summary_text(audited: Audited, declared: Declarations) -> str:
    """Summarise an archive: what to look at first, counts by team, box and rule, and what was not asked."""
    return "\n".join(_text(audited, declared))


def headline(audited: Audited) -> str:
    """Say in a sentence what was read and how much was found."""
    by_severity = _by(audited, 2)
    files = sum(file.table == "handlings" for file in audited.files)
    return (
        f"Archive of {audited.handlings:,} handlings in {counted(files, 'file', 'files')}: "
        + listed([counted(by_severity[severity], severity, f"{severity}s") for severity in SEVERITIES])
        + f". {counted(audited.looked, 'row was', 'rows were')} looked at."
    )


def whose(season: str, scheme: str, team: str) -> str:
    """Name a season of a team."""
    return ", ".join(part for part in (season or "no season", scheme, team) if part)


def team_rows(audited: Audited) -> list[tuple[str, dict[str, int]]]:
    """Count findings by season and team, by severity."""
    found: dict[str, dict[str, int]] = {}
    for (season, scheme, team, severity), many in sorted(audited.tally.by_team.items()):
        found.setdefault(whose(season, scheme, team), dict.fromkeys(SEVERITIES, 0))[severity] += many
    return list(found.items())


def _text(audited: Audited, declared: Declarations) -> Iterator[str]:
    yield from wrapped(headline(audited), _WIDTH)
    first = audited.tally.first[:_FIRST]
    if first:
        yield from ("", "Look at these first:")
        for one in first:
            yield from _told(one)
    teams = team_rows(audited)
    if teams:
        names = [f"{severity:>9}" for severity in SEVERITIES]
        yield from ("", f"{''.join(names)}   season and team")
        for name, numbers in teams[:_TEAMS]:
            yield "".join(f"{numbers[severity]:>9,}" for severity in SEVERITIES) + f"   {on_one_line(name)}"
        if len(teams) > _TEAMS:
            yield f"  {len(teams) - _TEAMS:,} more in summary.html"
    boxes = audited.tally.by_box.most_common(_BOXES)
    if boxes:
        yield from ("", "Boxes with most errors and suspects:")
        for (season, scheme, team, box), many in boxes:
            yield f"{many:>9,}   {on_one_line(box)} ({on_one_line(whose(season, scheme, team))})"
    rules = Counter[tuple[str, str]]()
    for (_, rule, severity), many in audited.tally.by_rule.items():
        rules[rule, severity] += many
    if rules:
        digits = len(f"{max(rules.values()):,}")
        yield from ("", "By rule:")
        for (rule, severity), many in sorted(
            rules.items(), key=lambda item: (SEVERITIES.index(item[0][1]), -item[1], item[0][0])
        ):
            yield f"  {many:>{digits},}  {severity:<7}  {rule}"
    yield ""
    yield from wrapped(how_asked(audited, declared), _WIDTH)
    if audited.notices:
        yield from ("", "How the files were read:")
        for notice in audited.notices:
            yield from wrapped(on_one_line(notice), _WIDTH, "  ")


def _told(one: First) -> Iterator[str]:
    line = one.line
    place = f"{line['file']}, row {line['row']}, {line['column']}"
    bird = " ".join(text for text in (line["box"], line["date"], line["ring"]) if text)
    yield from wrapped(on_one_line(f"{place} ({bird})" if bird else place), _WIDTH, "  ")
    yield from wrapped(on_one_line(line["message"]), _WIDTH, "    ")


def how_asked(audited: Audited, declared: Declarations) -> str:
    """Say what was asked of which rows."""
    asked = [str(slug) for slug in declared.settings["archive.rules.asked"].value]
    if audited.whole:
        return (
            "Asked were ring and tag over all years, and of each season of a team as a whole all the rules "
            "that its tables allow, as nestproof check asks them."
        )
    return (
        f"Asked were ring and tag over all years, and of the rules of a season {listed(asked)}: every row "
        "was sieved, and each such row was judged with the rows of its box and of its bird in that season. "
        "Workbooks, and folders with the tables of a season, were judged as a whole by all rules. The other "
        "rules need whole seasons, which takes longer: add --whole, or give a season to nestproof check."
    )


def summary_json(audited: Audited, declared: Declarations) -> str:
    """Give the same as JSON, with the checksums of the files; the same archive gives the same bytes."""
    by_season: dict[str, dict[str, int]] = {}
    for (season, _, severity), many in sorted(audited.tally.by_rule.items()):
        by_season.setdefault(season, dict.fromkeys(SEVERITIES, 0))[severity] += many
    tree = {
        "format": FORMAT,
        "version": VERSION,
        "handlings": audited.handlings,
        "looked_at": audited.looked,
        "judged": audited.judged,
        "whole_seasons": audited.whole,
        "lines": audited.tally.lines,
        "findings": dict(_by(audited, 2)),
        "by_rule": dict(sorted(_by(audited, 1).items())),
        "by_season": by_season,
        "by_team": [
            {"season": season, "scheme": scheme, "team": team, "severity": severity, "findings": many}
            for (season, scheme, team, severity), many in sorted(audited.tally.by_team.items())
        ],
        "rules_asked": [str(slug) for slug in declared.settings["archive.rules.asked"].value],
        "notices": audited.notices,
        "files": [
            {"file": file.name, "table": file.table, "bytes": file.size, "sha256": file.sha256}
            for file in audited.files
        ],
    }
    return json.dumps(tree, ensure_ascii=False, indent=1) + "\n"


def _by(audited: Audited, place: int) -> Counter[str]:
    found: Counter[str] = Counter()
    for key, many in audited.tally.by_rule.items():
        found[key[place]] += many
    return found
