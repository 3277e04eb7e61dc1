"""What is said to a person when something cannot be done: what, where and how to mend it."""

from __future__ import annotations

from functools import partial

__all__ = ["DeclarationRefusal", "GateRefusal", "Refusal", "SeasonRefusal"]


class Refusal(Exception):  # noqa: N818 - it is a refusal, addressed to a person, not a fault of the program
    """A file or a declaration that cannot be used as it stands.

    Parameters
    ----------
    what : str
        One sentence: what is wrong.
    where : str
        The place: file, sheet, cell or YAML line.
    cure : str
        How to mend it.
    """

    def __init__(self, what: str, *, where: str, cure: str) -> None:
        self.what = what
        self.where = where
        self.cure = cure
        super().__init__(f"{where}: {what} {cure}".strip())

    def _render_traceback_(self) -> list[str]:
        """Show in a notebook what helps a person, in place of a traceback."""
        return [self.what, f"  where: {self.where}", f"  cure:  {self.cure}"]

    def __reduce__(self) -> tuple[object, ...]:
        """Let a refusal pass from one process to another."""
        return partial(type(self), where=self.where, cure=self.cure), (self.what,)


class SeasonRefusal(Refusal):
    """A season file that cannot be read."""


class DeclarationRefusal(Refusal):
    """A declaration (YAML) that is wrong."""


class GateRefusal(Refusal):
    """A season that may not be handed over yet."""
