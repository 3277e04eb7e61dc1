"""Texts as a public archive can hold them: one line each, otherwise as typed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping

__all__ = ["as_text", "column_texts", "looked_up", "one_line"]

#: Line breaks, tabs and other control characters, and what XML 1.0 (section 2.2, production Char) cannot
#: hold. Marks that turn the direction of writing are none of these: they belong to the text.
_UNFIT = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]+")


def one_line(text: str) -> str:
    r"""Put one blank for each run of control characters; leave everything else as it is.

    A public archive is read by programs. So a text that a spreadsheet would run as a formula stays as typed
    here, which files for spreadsheets guard against.

    Examples
    --------
    >>> one_line("ring worn\n\tread twice ")
    'ring worn read twice'
    """
    return _UNFIT.sub(" ", text).strip()


def as_text(value: Any) -> str:  # noqa: ANN401 - whatever a cell holds
    """Write one value: a day as ISO 8601, a number as short as it can be read back, missing as empty."""
    if pd.isna(value):
        return ""
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() else repr(value)
    return one_line(str(value))


def column_texts(frame: pd.DataFrame, name: str) -> pd.Series:
    """Return a column as texts, empty where missing and where there is no such column.

    Each distinct value is written once.
    """
    if name not in frame.columns:
        return pd.Series("", index=frame.index, dtype=object)
    return _written(frame[name])


def looked_up(values: pd.Series, known: Mapping[Any, Any]) -> pd.Series:
    """Return what is known for each value, empty where nothing is: texts, whatever comes in."""
    found = (known.get(value, "") for value in values.tolist())
    texts = ["" if isinstance(text, float) else text for text in found]
    return pd.Series(texts, index=values.index, dtype=object)


def _written(values: pd.Series) -> pd.Series:
    codes, distinct = pd.factorize(values)
    known: dict[Hashable, str] = {number: as_text(value) for number, value in enumerate(distinct)}
    texts = [known.get(code, "") for code in codes.tolist()]
    return pd.Series(texts, index=values.index, dtype=object)
