"""Run the program: ``python -m audit`` is the same as ``nestproof``."""

from __future__ import annotations

import sys

__all__ = ["run"]


def run() -> int:
    """Run one command in a process of its own, and return its exit code."""
    # The drawing library loads jsonschema, and that, where Jupyter is installed, builds forty grammars of web
    # addresses, which takes two seconds. No command checks an address; a notebook's process is left alone.
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]  # none: not to be imported
    from audit.cli import main

    return main()


if __name__ == "__main__":
    sys.exit(run())
