"""What is done with a log of antennas, and with an archive of many seasons."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from audit.commands.exit_code import FOUND_NOTHING, FOUND_SOMETHING
from audit.commands.printed import say
from audit.commands.season_named import inputs_asked, season_asked
from audit.refusal import Refusal

if TYPE_CHECKING:
    import argparse

__all__ = ["audit_many", "tell_passages"]


def tell_passages(asked: argparse.Namespace) -> int:
    """Tell from box antennas who went in and out."""
    from audit.passing import passages

    if asked.season is None:
        beside = (asked.reads, asked.mapping, *asked.earlier)
        if any(beside):
            raise Refusal(
                "Files that stand beside a season were named, but no season.",
                where="nestproof passages",
                cure="Name the season with --season.",
            )
        passed = passages(asked.log, schemas=asked.schemas, set_clock=not asked.clock_as_logged)
        written = passed.write(asked.out)
        say("\n".join([repr(passed), "\nWritten:", *(f"  {path}" for path in written)]))
        return FOUND_NOTHING
    from audit.declarations import load_declarations
    from audit.hearing import heard

    declared = load_declarations(asked.schemas)
    # read first, since a log may take long
    season = season_asked(asked, declared)
    both = heard(asked.log, season, schemas=declared, set_clock=not asked.clock_as_logged)
    written = both.write(asked.out, inputs=inputs_asked(asked))
    say("\n".join([repr(both.passed), "", repr(both), "\nWritten:", *(f"  {path}" for path in written)]))
    return FOUND_NOTHING


def audit_many(asked: argparse.Namespace) -> int:
    """Audit many seasons and teams at once."""
    from audit.archiving import audit_archive

    audited = audit_archive(
        asked.sources,
        asked.out,
        schemas=asked.schemas,
        memory_mb=asked.memory,
        master=asked.master,
        parquet=asked.parquet,
        whole=asked.whole,
        tell=lambda what: print(what, file=sys.stderr, flush=True),
    )
    say(
        "\n".join(
            [
                repr(audited),
                "\nWritten:",
                f"  {asked.out / 'summary.html'}, the same as text, and the findings by season",
            ]
        )
    )
    return FOUND_SOMETHING if audited.found_something else FOUND_NOTHING
