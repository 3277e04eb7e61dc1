"""A share with its interval, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from audit.models.interval import Share

__all__ = ["INTERVAL", "percent_of", "share_words"]

#: What an interval of a share says, for whoever meets one for the first time.
INTERVAL = (
    "An interval says between which ends the share may lie in the long run: so few questions say no more."
)

_ALL = 100


def percent_of(part: float) -> str:
    """Write a part of one in hundredths.

    Examples
    --------
    >>> percent_of(0.95), percent_of(0.999)
    ('95 %', '99.9 %')
    """
    return f"{_ALL * part:g} %"


def share_words(share: Share, confidence: float) -> str:
    """Say how many of how many, and what that may mean in the long run.

    Parameters
    ----------
    share : Share
    confidence : float
        Of its interval, such as 0.95.
    """
    if not share.trials:
        return "none asked"
    told = f"{share.hits} of {share.trials} right"
    return f"{told} ({percent_of(confidence)} interval {share.low:.2f} to {share.high:.2f})"
