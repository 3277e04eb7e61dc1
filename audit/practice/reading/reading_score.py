"""What was typed of each number of a round: read rightly, which slip, which signs were taken for which."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.models.interval import wilson
from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.declarations import Declarations
    from audit.models.interval import Share
    from audit.models.keying import Channel
    from audit.practice.reading.reading_round import ReadingRound, Shown

__all__ = ["ASK", "RIGHT", "UNREAD", "Read", "ReadingScore", "mark_reading", "mistaken_signs", "plain"]

#: What is typed where a number could not be read.
ASK = "?"
RIGHT, UNREAD, ALIKE, TURNED = "right", "unread", "alike", "turned"
#: What a digit becomes when its ring stands upside down.
_UPSIDE_DOWN = str.maketrans("01689", "01986")
_TURNABLE = frozenset("01689")


@dataclass(frozen=True, slots=True)
class Read:
    """One number and what was typed.

    Attributes
    ----------
    shown : Shown
    typed : str
        As it was compared: without blanks, in capital letters; ``?`` or empty where it was not read.
    kind : str
        ``right``, ``unread``, ``alike`` (one sign taken for one that looks like it), ``turned`` (read upside
        down), else a kind of slip of `audit.models.slip_kinds.CODE_KINDS`.
    taken : tuple of (str, str)
        Signs that were taken for others: meant, typed.
    wrong_signs : int
        Signs of the number that were not read as they stand.
    seconds : float or None
        How long the answer took, where it is known.
    """

    shown: Shown
    typed: str
    kind: str
    taken: tuple[tuple[str, str], ...]
    wrong_signs: int
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class ReadingScore:
    """A marked round.

    Attributes
    ----------
    round : ReadingRound
    read : tuple of Read
        In the order of the round.
    numbers, signs : Share
        Misread numbers and signs, of those that were answered by more than ``?``.
    confidence : float
        Of their intervals.
    """

    round: ReadingRound
    read: tuple[Read, ...]
    numbers: Share
    signs: Share
    confidence: float

    @property
    def right(self) -> int:
        """Numbers read rightly."""
        return sum(one.kind == RIGHT for one in self.read)

    @property
    def unread(self) -> int:
        """Numbers that were said not to be read."""
        return sum(one.kind == UNREAD for one in self.read)

    @property
    def kinds(self) -> dict[str, int]:
        """Kind of slip -> how often, most often first."""
        kinds = Counter(one.kind for one in self.read if one.kind not in (RIGHT, UNREAD))
        return dict(sorted(kinds.items(), key=lambda item: (-item[1], item[0])))

    @property
    def taken(self) -> dict[tuple[str, str], int]:
        """Pair of signs, meant and typed -> how often, most often first."""
        taken = Counter(pair for one in self.read for pair in one.taken)
        return dict(sorted(taken.items(), key=lambda item: (-item[1], item[0])))


def plain(text: str) -> str:
    """Take blanks away and make letters capital: neither is read from a ring.

    Examples
    --------
    >>> plain(" sv 01263 "), plain("999 0000 0012 3456")
    ('SV01263', '999000000123456')
    """
    return "".join(text.split()).upper()


def mark_reading(
    round_: ReadingRound,
    answers: Sequence[str],
    declared: Declarations,
    *,
    seconds: Sequence[float] | None = None,
) -> ReadingScore:
    """Mark what was typed of a round.

    Parameters
    ----------
    answers : sequence of str
        One for each number, in order; ``?`` or nothing where it could not be read.
    seconds : sequence of float, optional
        How long each answer took, s.

    Raises
    ------
    audit.refusal.Refusal
        There are not as many answers, or times, as numbers.
    """
    shown = round_.shown
    for name, given in (("answers", answers), ("seconds", seconds)):
        if given is not None and len(given) != len(shown):
            raise Refusal(
                f"The round has {len(shown)} numbers, but {len(given)} {name} were given.",
                where=round_.name,
                cure="Give one for each number, in their order; '?' stands for one that could not be read.",
            )
    channel = declared.slips.channel()
    alike = tuple(str(pair) for pair in declared.settings["practice.reading.alike"].value)
    times: list[float | None] = [None] * len(shown) if seconds is None else list(seconds)
    read = tuple(
        _read(one, plain(answer), channel, alike, took)
        for one, answer, took in zip(shown, answers, times, strict=True)
    )
    told = [one for one in read if one.kind != UNREAD]
    confidence = float(declared.settings["practice.reading.confidence"].value)
    return ReadingScore(
        round_,
        read,
        wilson(sum(one.kind != RIGHT for one in told), len(told), confidence),
        wilson(sum(one.wrong_signs for one in told), sum(len(one.shown.meant) for one in told), confidence),
        confidence,
    )


def _read(shown: Shown, typed: str, channel: Channel, alike: Sequence[str], seconds: float | None) -> Read:
    if typed in ("", ASK):
        return Read(shown, typed, UNREAD, (), 0, seconds)
    if typed == shown.meant:
        return Read(shown, typed, RIGHT, (), 0, seconds)
    kind = channel.kind(typed, shown.meant) or "unknown"
    taken, kept = _aligned(shown.meant, typed)
    wrong = len(shown.meant) - kept
    if _is_turned(shown.meant, typed):
        kind, taken = TURNED, ()
    elif kind in ("neighbours", "jump"):
        # signs that changed places were read, each as itself
        taken = ()
    elif len(taken) == 1 and len(typed) == len(shown.meant) and _is_alike(taken[0], alike):
        kind = ALIKE
    # an added sign leaves all others as they are, and is one wrong all the same
    return Read(shown, typed, kind, taken, max(1, wrong), seconds)


def _is_alike(pair: tuple[str, str], alike: Sequence[str]) -> bool:
    both = "".join(pair)
    return both in alike or both[::-1] in alike


def _is_turned(meant: str, typed: str) -> bool:
    """Tell whether the digits of a ring were read from the other side."""
    digits = "".join(sign for sign in meant if sign.isdigit())
    read = "".join(sign for sign in typed if sign.isdigit())
    return len(digits) > 1 and set(digits) <= _TURNABLE and read == digits[::-1].translate(_UPSIDE_DOWN)


def _aligned(meant: str, typed: str) -> tuple[tuple[tuple[str, str], ...], int]:
    """Lay one text along the other with the fewest changes: signs taken for others, and how many kept."""
    cost = _costs(meant, typed)
    taken: list[tuple[str, str]] = []
    kept = 0
    for here, there in _way(cost, meant, typed):
        if here == there:
            kept += 1
        elif here and there:
            taken.append((here, there))
    return tuple(reversed(taken)), kept


def _costs(meant: str, typed: str) -> list[list[int]]:
    cost = [list(range(len(typed) + 1))]
    for row, here in enumerate(meant, 1):
        line = [row]
        for column, there in enumerate(typed, 1):
            line.append(
                min(
                    cost[row - 1][column - 1] + (here != there),
                    cost[row - 1][column] + 1,
                    line[column - 1] + 1,
                )
            )
        cost.append(line)
    return cost


def _way(cost: list[list[int]], meant: str, typed: str) -> Iterator[tuple[str, str]]:
    row, column = len(meant), len(typed)
    while row or column:
        here = meant[row - 1] if row else ""
        there = typed[column - 1] if column else ""
        if row and column and cost[row][column] == cost[row - 1][column - 1] + (here != there):
            row, column = row - 1, column - 1
            yield here, there
        elif row and cost[row][column] == cost[row - 1][column] + 1:
            row -= 1
            yield here, ""
        else:
            column -= 1
            yield "", there


def mistaken_signs(counts: Mapping[str, int]) -> dict[str, int]:
    """Count the signs that were mistaken, from pairs such as ``6>9``: both come again.

    Examples
    --------
    >>> mistaken_signs({"6>9": 2, "6>5": 1})
    {'6': 3, '9': 2, '5': 1}
    """
    found: Counter[str] = Counter()
    for pair, times in counts.items():
        for sign in pair.split(">"):
            found[sign] += times
    return dict(found)
