"""Strings of which an end is probably wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.rules.case import At
from audit.rules.issued.string_ends import as_written, rest, spans, used_in, usual_ends, without_string

if TYPE_CHECKING:
    from collections.abc import Iterator

    from audit.findings import Finding
    from audit.rules.case import Case
    from audit.rules.ring_rows import Ringings
    from audit.rules.stock import IssuedString

__all__ = ["ask_of_strings", "explained_rows"]


def ask_of_strings(case: Case, rings: Ringings) -> Iterator[Finding]:
    """Ask about strings that cannot be, or have another number of rings than usual.

    Yields
    ------
    Finding
        ``string_fault``, ``string_length`` or ``string_end``.
    """
    for string in rings.stock:
        if string.fault:
            yield _fault(case, rings, string)
            continue
        yield from _length(case, rings, string)


def _fault(case: Case, rings: Ringings, string: IssuedString) -> Finding:
    meant = usual_ends(string, rings.string_length)
    fitting = {name: ring for name, ring in meant.items() if _needed(case, rings, string, name)}
    if len(fitting) == 1:
        ((name, ring),) = fitting.items()
        message = (
            f"This string {string.fault}: with {ring} as its {name} ring it would have the rings put on."
        )
        suspects = [At(string.label, name, as_written(case, string, name, ring), case.limit("p_end"))]
        return case.blame("string_fault", suspects, message)
    half = [At(string.label, name) for name in ("first", "last")]
    return case.blame("string_fault", half, f"This string {string.fault}.")


def _needed(case: Case, rings: Ringings, string: IssuedString, name: str) -> bool:
    """Whether rings were put on that a faulty string would have if one of its ends were another."""
    low, high = spans(string, rings.string_length)[name]
    least: int = case.limit("outside_least")
    return len(without_string(rings, string.key, low, high)) >= least


def _length(case: Case, rings: Ringings, string: IssuedString) -> Iterator[Finding]:
    """Ask about a string that is longer than usual, or shorter while the rest was put on too."""
    length, usual = string.last - string.first + 1, rings.string_length
    meant = usual_ends(string, usual)
    if length < usual:
        # a part is innocent as long as nobody puts the other one on
        yield from _rest_in_use(case, rings, string, meant)
        return
    # a multiple may be several strings in one row
    if length == usual or not length % usual:
        return
    # an end that would cut rings off that were put on is right as it stands
    cut = {
        "first": (string.first, string.last - usual),
        "last": (string.first + usual, string.last),
    }
    meant = {name: ring for name, ring in meant.items() if not used_in(rings, string.key, *cut[name])}
    message = f"The string {string} has {length} rings; strings have {usual}"
    if not meant:
        yield case.blame("string_length", [At(string.label, "last")], f"{message}.")
        return
    share = case.limit("p_end") / len(meant)
    clause = " or ".join(f"the {name} one is one slip away from {ring}" for name, ring in meant.items())
    suspects = [
        At(string.label, name, as_written(case, string, name, ring), share, share)
        for name, ring in meant.items()
    ]
    yield case.blame("string_end", suspects, f"{message}, and {clause}.")


def _rest_in_use(
    case: Case, rings: Ringings, string: IssuedString, meant: dict[str, str]
) -> Iterator[Finding]:
    usual = rings.string_length
    lacking = rest(string, usual)
    for name, ring in meant.items():
        used = without_string(rings, string.key, *lacking[name])
        if len(used) < case.limit("outside_least"):
            continue
        message = (
            f"{len(used)} rings from {rings.ring[used[0]]} to {rings.ring[used[-1]]} were put on and are in "
            f"no string: with {ring} as its {name} ring the string {string} would have {usual}."
        )
        p = case.limit("p_end")
        suspects = [At(string.label, name, as_written(case, string, name, ring), p, p)]
        witnesses = [(str(rings.labels[i]), "ring") for i in dict.fromkeys((used[0], used[-1]))]
        yield case.blame("string_end", suspects, message, witnesses)


def explained_rows(case: Case, rings: Ringings) -> frozenset[int]:
    """Rows whose rings would be in a string but for a slip in one of its ends."""
    found: set[int] = set()
    for string in rings.stock:
        if string.fault:
            for span in spans(string, rings.string_length).values():
                found.update(without_string(rings, string.key, *span))
        elif string.last - string.first + 1 < rings.string_length:
            for name in usual_ends(string, rings.string_length):
                used = without_string(rings, string.key, *rest(string, rings.string_length)[name])
                found.update(used if len(used) >= case.limit("outside_least") else ())
    return frozenset(found)
