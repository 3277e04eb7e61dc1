"""Where a bird was, and the way from where it was ringed, as codes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from audit.handover.exchange.marks import is_replaced
from audit.models.sexagesimal import pack

if TYPE_CHECKING:
    from audit.declarations.exchange import CodeTable
    from audit.handover.exchange.handled import Handled
    from audit.handover.exchange.history import Past
    from audit.handover.exchange.round import Round

__all__ = ["NO_POINT", "NO_WAY", "PLACE_UNKNOWN", "place_fields", "way_fields"]

#: Place code where none is declared.
PLACE_UNKNOWN = "----"
#: Co-ordinates that are not known, or stand in fields of their own.
NO_POINT = "." * 15
#: Way and time from a ringing that nobody told of.
NO_WAY = {"distance": "-----", "direction": "---", "elapsed": "-----"}
_AT_RINGING = {"distance": "00000", "direction": "000", "elapsed": "00000"}

_AS_WRITTEN, _SOMEWHERE = "0", "9"
_METRES = 1000
_TURN = 360


def place_fields(one: Handled, around: Round) -> dict[str, str]:
    """Write place code, co-ordinates and their accuracy."""
    return around.once_for(one.box, lambda: _place(one.box, around))


def _place(box: str, around: Round) -> dict[str, str]:
    exchange = around.exchange
    place = around.sender.place_of(box)
    told = {
        "place_code": place.code or PLACE_UNKNOWN,
        "coordinates": NO_POINT,
        "coordinates_accuracy": _SOMEWHERE,
        "latitude": "",
        "longitude": "",
    }
    point = around.points.get(box)
    if point is None:
        return told
    try:
        packed = pack(*point)
    except ValueError:
        # the table of boxes names a place beyond the globe: asked about with the boxes
        return told
    decimals = int(exchange.choice("decimals_of_degrees"))
    return told | {
        "coordinates": packed,
        "coordinates_accuracy": _accuracy(around, exchange.codes["coordinates_accuracy"]),
        # no minus in front of a zero
        "latitude": f"{round(point[0], decimals) + 0.0:.{decimals}f}",
        "longitude": f"{round(point[1], decimals) + 0.0:.{decimals}f}",
    }


def way_fields(one: Handled, past: Past, around: Round) -> dict[str, str]:
    """Write distance, direction and days from the ringing; zero at the ringing itself, never as typed.

    Of a bird that got a new ring for an old one they are left to the scheme, which knows the old one.
    """
    if is_replaced(one, past, around):
        return dict(NO_WAY)
    if past.is_ringing:
        return dict(_AT_RINGING)
    ringing = past.ringing
    if ringing is None or ringing.day is None or one.day is None:
        return dict(NO_WAY)
    told = NO_WAY | {"elapsed": f"{(one.day - ringing.day).days:05d}"}
    way = (0.0, 0.0) if one.box and one.box == ringing.box else around.way(ringing.box, one.box)
    if way is not None:
        km = int(way[0] + 1 / 2)
        told["distance"] = f"{km:05d}"
        told["direction"] = f"{int(way[1] + 1 / 2) % _TURN if km else 0:03d}"
    return told


def _accuracy(around: Round, table: CodeTable) -> str:
    """Find the code of the smallest circle that holds what the team says of its co-ordinates."""
    metres = float(around.sender.limits["uncertainty_m"].value)
    if 0 < metres <= float(around.exchange.choice("as_written_m")):
        return _AS_WRITTEN
    circles = sorted((code.reach, text) for text, code in table.values.items() if code.reach is not None)
    return next((text for km, text in circles if metres <= km * _METRES), _SOMEWHERE)
