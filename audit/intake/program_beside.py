"""A process of this program beside this one: the same interpreter, with the same folders of modules."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["start_beside"]

#: What it begins with: the folders where this one looks for modules, and the modules that it is spared.
_BEGINS = """
import json, sys
folders, spared = json.loads(sys.argv[1])
sys.path[:0] = folders
sys.modules.update(dict.fromkeys(spared))
"""


def start_beside(
    program: str, *words: str, spared: Iterable[str] = (), asked: bool = False
) -> subprocess.Popen[bytes] | None:
    """Start a process; None where none can be started.

    Parameters
    ----------
    program : str
        Text of a Python program; `words` are its ``sys.argv[2:]``.
    spared : iterable of str
        Modules that it is not to load, besides those that this process is spared.
    asked : bool
        Whether it is asked things later on: its ``stdin`` is then a pipe, as its ``stdout`` always is.
    """
    if not sys.executable:
        return None
    folders = [str(Path(__file__).parents[2]), *filter(None, sys.path)]
    # a module that is spared is None there, whatever its type says
    loaded: dict[str, object] = dict(sys.modules)
    without = [*spared, *(name for name, module in loaded.items() if module is None)]
    # the other one heeds no environment: it is told where this one keeps what was compiled
    compiled = [] if sys.pycache_prefix is None else ["-X", f"pycache_prefix={sys.pycache_prefix}"]
    try:
        return subprocess.Popen(  # noqa: S603 - this interpreter, with a text of this program
            [
                sys.executable,
                *compiled,
                "-I",
                "-S",
                "-c",
                _BEGINS + program,
                json.dumps([folders, without]),
                *words,
            ],
            stdin=subprocess.PIPE if asked else subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
    except OSError:
        return None
