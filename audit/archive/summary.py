"""What was found in an archive, in a page of plain text and as JSON."""

from __future__ import annotations

import json
from collections import Counter
from typing import TYPE_CHECKING

from audit.findings import SEVERITIES
from audit.handover.terminal import wrapped
from audit.intake.wording import counted, listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.archive.audited import Audited
    from audit.declarations import Declarations

__all__ = ["FORMAT", "VERSION", "summary_json", "summary_text"]

#: Name and version of the JSON form; the version changes only when a key changes its meaning.
FORMAT = "nestproof-archive"
VERSION = 1
_WIDTH = 100


def summary_text(audited: Audited, declared: Declarations) -> str:
    """Summarise an archive: how many findings, by rule and by season, and what was not asked."""
    return "\n".join(_text(audited, declared))


def _text(audited: Audited, declared: Declarations) -> Iterator[str]:
    files = sum(file.table == "handlings" for file in audited.files)
    by_severity = _by(audited, 2)
    yield from wrapped(
        f"Archive of {audited.handlings:,} handlings in {counted(files, 'file', 'files')}: "
        + ", ".join(f"{severity} {by_severity[severity]:,}" for severity in SEVERITIES)
        + f". {audited.looked:,} rows were looked at.",
        _WIDTH,
    )
    rules = Counter[tuple[str, str]]()
    for (_, rule, severity), many in audited.counts.items():
        rules[rule, severity] += many
    if rules:
        digits = len(f"{max(rules.values()):,}")
        yield ""
        for (rule, severity), many in sorted(
            rules.items(), key=lambda item: (SEVERITIES.index(item[0][1]), -item[1], item[0][0])
        ):
            yield f"  {many:>{digits},}  {severity:<7}  {rule}"
    yield ""
    yield from wrapped(_how(audited, declared), _WIDTH)
    for notice in audited.notices:
        yield from wrapped(notice, _WIDTH)


def _how(audited: Audited, declared: Declarations) -> str:
    asked = [str(slug) for slug in declared.settings["archive.rules.asked"].value]
    judged = (
        "each season of a team with such a row was judged as a whole"
        if audited.whole
        else "each such row was judged with the rows of its box and of its bird in that season"
    )
    return (
        f"Asked were ring and tag over all years, and of the rules of a season {listed(asked)}: every row "
        f"was sieved, and {judged}. All other rules need a whole season with its tables: nestproof check."
    )


def summary_json(audited: Audited, declared: Declarations) -> str:
    """Give the same as JSON, with the checksums of the files; the same archive gives the same bytes."""
    tree = {
        "format": FORMAT,
        "version": VERSION,
        "handlings": audited.handlings,
        "looked_at": audited.looked,
        "judged": audited.judged,
        "whole_seasons": audited.whole,
        "lines": audited.lines,
        "findings": dict(_by(audited, 2)),
        "by_rule": dict(sorted(_by(audited, 1).items())),
        "by_season": {
            season: {
                severity: sum(
                    many for (one, _, two), many in audited.counts.items() if (one, two) == (season, severity)
                )
                for severity in SEVERITIES
            }
            for season in sorted(_by(audited, 0))
        },
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
    for key, many in audited.counts.items():
        found[key[place]] += many
    return found
