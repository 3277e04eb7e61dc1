"""Who lives at a box: adults and nestlings, and what they do, move by move."""

from __future__ import annotations

from dataclasses import dataclass, field

DAY = 86_400.0
HOUR = 3_600.0


@dataclass(slots=True)
class Move:
    """One thing a bird does in the entrance.

    ``in`` and ``out`` are passages and ``at`` is when the bird crosses the middle; for the others ``at`` is
    the beginning and ``hold`` how long it stays in range.
    """

    box: str
    tag: str
    at: float
    kind: str  # in, out, look_in, look_out, sit_in, sit_out
    hold: float = 0.0


@dataclass(slots=True)
class Bird:
    """One tagged bird of a box; days count from the first noon of the log."""

    box: str
    tag: str
    role: str  # male, female, nestling
    tagged: float = 0.0
    first_flight: float = 0.0  # day, nestlings only
    leaves: float = 1e9  # day after which it is gone for good
    inside: bool = False
    moves: list[Move] = field(default_factory=list)

    def do(self, at: float, kind: str, hold: float = 0.0) -> None:
        """Write down one move."""
        self.moves.append(Move(self.box, self.tag, at, kind, hold))


@dataclass(slots=True)
class Box:
    """One box: its birds and the age of its oldest nestling when the log begins."""

    name: str
    birds: list[Bird]
    brood: int
    age: float
