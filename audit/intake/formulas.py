"""Formulas of a spreadsheet: the cells that they refer to, and plain arithmetic as a tree.

Nothing is executed. Every formula is cut into tokens, so that what it refers to is known even where its
functions are not; only numbers, texts, references, operators and calls become a tree.

References
----------
ISO/IEC 29500-1, 18.17 (formulas): signs, their precedence, references, functions.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from audit.intake.grid import column_number

__all__ = [
    "CONSTANT",
    "LAST_COLUMN",
    "LAST_ROW",
    "TOKEN",
    "Area",
    "Binary",
    "Call",
    "Formula",
    "Literal",
    "Place",
    "Unary",
    "formula_of",
]

#: Sheet in small letters (`str.casefold`), row and column; both count from 1.
Place = tuple[str, int, int]

#: Size of a sheet.
LAST_ROW, LAST_COLUMN = 1_048_576, 16_384
_DEEPEST = 40  # brackets within brackets
#: Functions that choose by themselves which cells they look at.
_ANYWHERE = frozenset(["INDIRECT", "OFFSET", "CELL", "GETPIVOTDATA", "TABLE"])

_CELL = r"\$?[A-Za-z]{1,3}\$?[1-9][0-9]{0,6}"
#: One token of a formula.
TOKEN = re.compile(
    rf"""\s*(?:
      (?P<text>"(?:[^"]|"")*")
    | (?P<sheet>'(?:[^']|'')+'!|\$?[^\W\d][\w.]*!|\[\d+\][\w.]*!)?
      (?P<area>{_CELL}(?::{_CELL})?|\$?[A-Za-z]{{1,3}}:\$?[A-Za-z]{{1,3}}|\$?[0-9]+:\$?[0-9]+)(?![\w.(!\[\#])
    | (?P<number>(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)
    | (?P<call>[^\W\d][\w.]*)\(
    | (?P<truth>TRUE|FALSE)(?![\w.!\[])
    | (?P<sign><=|>=|<>|[-+*/^&%=<>(),;])
    )""",
    re.VERBOSE | re.IGNORECASE,
)
#: What is no token, but depends on no other cell: an error, a list of constants, a name that the formula
#: itself gives to a part of it, the sign for "of this row".
CONSTANT = re.compile(
    r"""\s*(?:
      \#(?:NULL!|DIV/0!|VALUE!|REF!|NAME\?|NUM!|N/A|CALC!|SPILL!)
    | \{(?:"(?:[^"]|"")*"|[^{}"])*\}
    | _xlpm\.[\w.]+
    | @
    )""",
    re.VERBOSE | re.IGNORECASE,
)
_CORNER = re.compile(r"\$?([A-Za-z]*)\$?([0-9]*)")
#: What binds less stands first.
_LEVELS = (("=", "<>", "<", ">", "<=", ">="), ("&",), ("+", "-"), ("*", "/"), ("^",))


@dataclass(frozen=True, slots=True)
class Area:
    """Cells that a formula refers to: one, a rectangle, whole rows or columns; all from 1, ends included.

    Attributes
    ----------
    sheet : str
        In small letters; empty for the sheet of the formula.
    """

    sheet: str
    top: int
    left: int
    bottom: int
    right: int

    @property
    def is_cell(self) -> bool:
        """Whether it is one cell."""
        return self.top == self.bottom and self.left == self.right

    def holds(self, row: int, column: int) -> bool:
        """Whether a cell of its sheet lies in it."""
        return self.top <= row <= self.bottom and self.left <= column <= self.right


@dataclass(frozen=True, slots=True)
class Literal:
    """A number, text or truth value; None for an argument that is left out."""

    value: float | str | bool | None


@dataclass(frozen=True, slots=True)
class Unary:
    """A sign before a value, or ``%`` behind it."""

    sign: str
    of: Node


@dataclass(frozen=True, slots=True)
class Binary:
    """Two values and the sign between them."""

    sign: str
    left: Node
    right: Node


@dataclass(frozen=True, slots=True)
class Call:
    """A function and its arguments."""

    name: str
    arguments: tuple[Node, ...]


Node = Area | Literal | Unary | Binary | Call


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula, understood as far as it can be.

    Attributes
    ----------
    tree : Node or None
        None where it is more than arithmetic and calls.
    areas : tuple of Area
        What it refers to.
    anywhere : bool
        It may depend on other cells as well: it holds names, or functions that look where they like.
    """

    tree: Node | None
    areas: tuple[Area, ...]
    anywhere: bool


class _NotPlainError(Exception):
    """The formula is more than can be worked out."""


@lru_cache(maxsize=1 << 16)
def formula_of(text: str) -> Formula:
    """Take a formula apart.

    Parameters
    ----------
    text : str
        With its equals sign.

    Examples
    --------
    >>> formula_of("=2*K17").areas
    (Area(sheet='', top=17, left=11, bottom=17, right=11),)
    >>> formula_of("=INDIRECT(A1)").anywhere, formula_of("=tare*2").anywhere
    (True, True)
    """
    tokens, whole, known = _tokens(text.removeprefix("="))
    areas = tuple(dict.fromkeys(token for token in tokens if isinstance(token, Area)))
    called = {token.name for token in tokens if isinstance(token, Call)}
    anywhere = not known or bool(called & _ANYWHERE)
    try:
        tree = _Parser(tokens).whole() if whole else None
    except _NotPlainError:
        tree = None
    return Formula(tree, areas, anywhere)


_Token = str | Area | Literal | Call


def _tokens(text: str) -> tuple[list[_Token], bool, bool]:
    """Cut a formula into tokens; say whether that is all of it, and whether all its references are known."""
    tokens: list[_Token] = []
    at, whole, known = 0, True, True
    text = text.rstrip()
    while at < len(text):
        match = TOKEN.match(text, at)
        if match is None:
            whole = False
            constant = CONSTANT.match(text, at)
            if constant is not None:
                at = constant.end()
                continue
            known = False
            # a name, a structured reference, an error: pass over it, and look for references behind it
            unknown = re.compile(r"\s*(?:[\w.\\!]+|.)", re.DOTALL).match(text, at)
            at = unknown.end() if unknown else len(text)
            continue
        at = match.end()
        token = _token(match)
        if token is None:
            whole = known = False
        else:
            tokens.append(token)
    return tokens, whole, known


def _token(match: re.Match[str]) -> _Token | None:
    if match["text"] is not None:
        return Literal(match["text"][1:-1].replace('""', '"'))
    if match["area"] is not None:
        return _area(match["sheet"] or "", match["area"])
    if match["number"] is not None:
        return Literal(float(match["number"]))
    if match["call"] is not None:
        return Call(match["call"].upper().removeprefix("_XLFN."), ())
    if match["truth"] is not None:
        return Literal(match["truth"].upper() == "TRUE")
    return match["sign"]


def _area(sheet: str, text: str) -> Area | None:
    name = sheet.removesuffix("!").removeprefix("$")
    if name.startswith("'"):
        name = name[1:-1].replace("''", "'")
    if ":" in name and "[" not in name:
        return None  # all sheets from one to another
    name = name.casefold()
    first, _, last = text.partition(":")
    corners = []
    for corner, lowest in ((first, True), (last or first, False)):
        match = _CORNER.fullmatch(corner)
        if match is None:
            return None
        column = column_number(match[1]) if match[1] else (1 if lowest else LAST_COLUMN)
        row = int(match[2]) if match[2] else (1 if lowest else LAST_ROW)
        if not (1 <= row <= LAST_ROW and 1 <= column <= LAST_COLUMN):
            return None
        corners.append((row, column))
    (top, left), (bottom, right) = corners
    return Area(name, min(top, bottom), min(left, right), max(top, bottom), max(left, right))


class _Parser:
    def __init__(self, tokens: list[_Token]) -> None:
        self._tokens = tokens
        self._at = 0
        self._depth = 0

    def whole(self) -> Node:
        node = self._level(0)
        if self._at < len(self._tokens):
            raise _NotPlainError
        return node

    def _next(self) -> _Token | None:
        return self._tokens[self._at] if self._at < len(self._tokens) else None

    def _take(self) -> _Token:
        token = self._next()
        if token is None:
            raise _NotPlainError
        self._at += 1
        return token

    def _level(self, level: int) -> Node:
        if level == len(_LEVELS):
            return self._signed()
        node = self._level(level + 1)
        while isinstance(sign := self._next(), str) and sign in _LEVELS[level]:
            self._at += 1
            node = Binary(sign, node, self._level(level + 1))
        return node

    def _signed(self) -> Node:
        # in a spreadsheet a minus before a number binds more than a power: -2^2 is 4
        signs = []
        while isinstance(sign := self._next(), str) and sign in ("+", "-"):
            signs.append(sign)
            self._at += 1
        node = self._single()
        while self._next() == "%":
            self._at += 1
            node = Unary("%", node)
        for sign in reversed(signs[-_DEEPEST:]):
            node = Unary(sign, node)
        if len(signs) > _DEEPEST:
            raise _NotPlainError
        return node

    def _single(self) -> Node:
        first = self._take()
        if isinstance(first, Area | Literal):
            return first
        self._depth += 1
        if self._depth > _DEEPEST:
            raise _NotPlainError
        if isinstance(first, Call):
            node: Node = Call(first.name, self._arguments())
        elif first == "(":
            node = self._level(0)
            self._close()
        else:
            raise _NotPlainError
        self._depth -= 1
        return node

    def _arguments(self) -> tuple[Node, ...]:
        if self._next() == ")":
            self._at += 1
            return ()
        arguments: list[Node] = []
        while True:
            left_out = self._next() in (",", ";", ")")
            arguments.append(Literal(None) if left_out else self._level(0))
            after = self._take()
            if after == ")":
                return tuple(arguments)
            if after not in (",", ";"):
                raise _NotPlainError

    def _close(self) -> None:
        if self._take() != ")":
            raise _NotPlainError
