"""Run the program: ``python -m audit`` is the same as ``nestproof``."""

from __future__ import annotations

import gc
import sys

__all__ = ["run"]

#: Loaded by libraries of ours when they are there, as beside Jupyter and in tests, and used by no command:
#: grammars and checks of web addresses and moments (jsonschema; the grammars alone take two seconds), a chart
#: in a notebook and its commands (altair), invented data and maps (pandera).
_NOT_USED = (
    *("arrow", "fqdn", "isoduration", "rfc3986_validator", "rfc3987_syntax", "uri_template", "webcolors"),
    *("anywidget", "IPython", "hypothesis", "geopandas"),
    # reads XML at half the speed, to refuse what the intake has refused before (`intake/workbook`)
    "defusedxml",
)
#: So many new objects before unused ones are looked for: a season holds hundreds of thousands that stay, and
#: looking through them again and again took a fifth of a command.
_NEW_OBJECTS = 500_000
#: Exit code of a program that was stopped by its user: 128 and the number of the signal, as shells have it.
_INTERRUPTED = 130


def run() -> int:
    """Run one command in a process of its own, and return its exit code."""
    for name in _NOT_USED:
        # a notebook's process is left alone
        sys.modules.setdefault(name, None)  # type: ignore[arg-type]  # none: not to be imported
    gc.set_threshold(_NEW_OBJECTS, 20, 20)
    try:
        from audit.cli import main

        return main()
    except KeyboardInterrupt:
        sys.stderr.write("nestproof: Stopped before it was done. No file that was read was changed.\n")
        return _INTERRUPTED
    finally:
        # the interpreter looks for unused ones once more before it ends, which took a tenth of a small season
        gc.freeze()


if __name__ == "__main__":
    sys.exit(run())
