"""The words of the command line."""

from __future__ import annotations

from audit.call.practice_verbs import DRILLS, MARKED_DRILLS
from audit.call.verbs import parser

__all__ = ["DRILLS", "MARKED_DRILLS", "parser"]
