"""Values as a person would type them."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pandas as pd

__all__ = ["plain_text"]


def plain_text(value: object) -> str:
    """Write a value as a person would type it: ``373``, ``20.5``, ``2026-05-04``; missing values are empty.

    Examples
    --------
    >>> plain_text(373.0), plain_text(20.50), plain_text(None)
    ('373', '20.5', '')
    """
    if value is None or value is pd.NA or value is pd.NaT:
        return ""
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if isinstance(value, (float, np.floating)):
        number = float(value)
        if math.isnan(number):
            return ""
        # %g would turn large whole numbers into powers of ten
        return f"{number:.0f}" if number.is_integer() else f"{number:.10g}"
    if isinstance(value, (pd.Timestamp, dt.datetime)):
        if value.hour == value.minute == value.second == value.microsecond == 0:
            return value.date().isoformat()
        return value.isoformat(sep=" ")
    if isinstance(value, dt.date):
        return value.isoformat()
    return str(value)
