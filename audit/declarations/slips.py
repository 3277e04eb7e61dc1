"""Declared rates and shares of slips, and the channel made of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from audit.declarations.limit import Limit, limits_in
from audit.declarations.once import once_for
from audit.models.digit_swaps import digit_swaps
from audit.models.keying import Channel
from audit.models.learnt_slips import learn, learn_rate
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from audit.declarations.document import Document
    from audit.declarations.shape import Trail

__all__ = ["SlipDeclarations", "check_slips", "slips_from"]

#: Groups whose shares make 1.
_WHOLES: tuple[Trail, ...] = (
    ("codes",),
    ("measures",),
    ("parts", "tenfold"),
    ("parts", "copied"),
    ("parts", "gross_net"),
    ("parts", "exchanged"),
)

#: Not a share, though it stands among them.
_WEIGHT = "weight"

#: Shares are written to a few places.
_ROOM = 0.0005


@dataclass(frozen=True, slots=True)
class SlipDeclarations:
    """How often the hand slips, and how its slips divide.

    Attributes
    ----------
    limits : mapping of str to Limit
        Numbers of ``slips.yaml`` under dotted keys such as ``codes.digit``.
    ranges : mapping of str to tuple of two floats
        Least and greatest rate that may be learnt, by the name of the rate.

    Examples
    --------
    >>> from audit.declarations import load_declarations
    >>> slips = load_declarations().slips
    >>> slips.share("rates.field"), round(slips.share("gross_net.not_subtracted"), 3)
    (0.005, 0.092)
    >>> channel = slips.channel()
    >>> channel.kind("SV01263", "SV01236"), channel.kind(373.0, 37.3)
    ('neighbours', 'tenfold')
    """

    limits: Mapping[str, Limit]
    ranges: Mapping[str, tuple[float, float]]

    def share(self, name: str) -> float:
        """Return a declared rate or share.

        Parameters
        ----------
        name : str
            Such as ``rates.ring``, ``codes.digit``, ``measures.copied``; or a part of one of the latter, such
            as ``copied.above``, as a share of all wrong measurements.

        Raises
        ------
        KeyError
            No such share is declared.
        """
        part = self.limits.get(f"parts.{name}")
        if part is None:
            return float(self.limits[name].value)
        whole, _, _ = name.partition(".")
        return float(self.limits[f"measures.{whole}"].value) * float(part.value)

    def group(self, name: str) -> dict[str, float]:
        """Return the shares of a group: ``codes``, ``measures`` or ``habits``."""
        return {
            key.partition(".")[2]: float(limit.value)
            for key, limit in self.limits.items()
            if key.startswith(f"{name}.") and key != f"{name}.{_WEIGHT}"
        }

    def channel(self) -> Channel:
        """Make the channel from what was meant to what is typed."""
        return _channel_of(self)

    def learnt(
        self,
        *,
        codes: Mapping[str, float] | None = None,
        measures: Mapping[str, float] | None = None,
        cells: Mapping[str, tuple[float, float]] | None = None,
    ) -> SlipDeclarations:
        """Return the declarations after a team's own slips have been counted.

        Parameters
        ----------
        codes, measures : mapping of str to float, optional
            Decided slips by kind, as under ``codes`` and ``measures``.
        cells : mapping of str to tuple of two floats, optional
            Cells that were decided to be wrong, and all cells looked at, by the name of the rate.

        Raises
        ------
        ValueError
            A kind or a rate that is not declared; a negative count.
        """
        limits = dict(self.limits)

        def put(key: str, value: float, source: str) -> None:
            limits[key] = replace(limits[key], value=value, source=source, grade="computed")

        for name, counts in (("codes", codes), ("measures", measures)):
            if counts:
                weight = self.share(f"{name}.{_WEIGHT}")
                source = f"learnt from {sum(counts.values()):g} slips of the team's own"
                for kind, value in learn(self.group(name), counts, weight).items():
                    put(f"{name}.{kind}", value, source)
        for name, (wrong, looked_at) in (cells or {}).items():
            if name not in self.ranges:
                raise ValueError(f"no rate is declared for {name}")
            rate, weight = self.share(f"rates.{name}"), self.share(f"rates.{_WEIGHT}")
            value = learn_rate(rate, wrong, looked_at, weight, self.ranges[name])
            put(f"rates.{name}", value, f"learnt from {looked_at:g} cells of the team's own")
        return SlipDeclarations(limits, self.ranges)


def slips_from(document: Document) -> SlipDeclarations:
    """Build slip declarations from a document that fits the form ``slips``."""
    return SlipDeclarations(
        limits=dict(limits_in(document.tree)),
        ranges={
            name: (float(body["range"][0]), float(body["range"][1]))
            for name, body in document.tree["rates"].items()
            if name != _WEIGHT
        },
    )


def check_slips(document: Document) -> None:
    """Check what a form cannot say: shares that make 1, and rates within their range.

    Raises
    ------
    DeclarationRefusal
        With file, line and cure.
    """
    for name, body in document.tree["rates"].items():
        if name == _WEIGHT:
            continue
        least, most = body["range"]
        if not least <= body["value"] <= most:
            raise DeclarationRefusal(
                f"'{body['value']}' under 'rates.{name}.value' is outside its range, {least} to {most}.",
                where=document.where("rates", name, "value"),
                cure="Change the value or the range.",
            )
    for trail in _WHOLES:
        group = document.tree
        for step in trail:
            group = group[str(step)]
        total = sum(body["value"] for name, body in group.items() if name != _WEIGHT)
        if abs(total - 1) > _ROOM:
            raise DeclarationRefusal(
                f"The shares under '{'.'.join(map(str, trail))}' make {total:.4g}, not 1.",
                where=_where(document, trail, group),
                cure=f"Change one or more of them: together they are {abs(total - 1):.4g} too "
                f"{'much' if total > 1 else 'little'}.",
            )
    total = sum(body["value"] for body in document.tree["habits"].values())
    if total >= 1:
        raise DeclarationRefusal(
            f"The shares under 'habits' make {total:.4g} and leave nothing to the hand.",
            where=_where(document, ("habits",), document.tree["habits"]),
            cure="Write smaller shares: they are shares of all wrong codes, and must make less than 1.",
        )


def _where(document: Document, trail: Trail, group: Mapping[str, object]) -> str:
    """Say where the shares stand: the last line that a team wrote itself, if it wrote one."""
    # the document as a whole has the place of the file that was laid over the others
    last_file = document.place()[0]
    places = [document.place(*trail, name, "value") for name in group]
    own = [place for place in places if place[0] == last_file] or [document.place(*trail)]
    path, line = max(own, key=lambda place: place[1])
    return f"{path}, line {line}"


@once_for
def _channel_of(slips: SlipDeclarations) -> Channel:
    digits = {key: limit.value for key, limit in slips.limits.items() if key.startswith("digits.")}
    return Channel(
        codes=slips.group("codes"),
        habits=slips.group("habits"),
        keyed=slips.share("measures.digit"),
        tenfold=slips.share("tenfold.point"),
        kilograms=slips.share("tenfold.kilograms"),
        copied=slips.share("copied.above"),
        span_g=float(digits["digits.span"]),
        odd_step=float(digits["digits.odd_step"]),
        swaps=digit_swaps(
            digits["digits.confused"],
            float(digits["digits.confused_times"]),
            digits["digits.keypad"],
            float(digits["digits.beside_times"]),
            float(digits["digits.diagonal_times"]),
        ),
        look_alikes=tuple(slips.limits["letters.look_alikes"].value),
        other_class=slips.share("letters.other_class"),
        other_sign=slips.share("letters.other_sign"),
    )
