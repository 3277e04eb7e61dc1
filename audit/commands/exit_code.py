"""What the exit code of a command means."""

from __future__ import annotations

__all__ = ["FOUND_NOTHING", "FOUND_SOMETHING", "REFUSED"]

FOUND_NOTHING, FOUND_SOMETHING, REFUSED = 0, 1, 2
