"""What a command says."""

from __future__ import annotations

import os
import sys

from audit.refusal import Refusal

__all__ = ["say"]


def say(text: str) -> None:
    """Print, also to a program that stops listening or onto a disk that is full."""
    try:
        print(text, flush=True)
    except OSError as fault:
        # Else the interpreter would try once more when it ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if not isinstance(fault, BrokenPipeError):
            raise Refusal(
                f"What was found cannot be printed: {fault.strerror}.",
                where="standard output",
                cure="Look into the folder of the results, or print to another place.",
            ) from fault
