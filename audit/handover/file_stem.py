"""How files that are named after a season begin."""

from __future__ import annotations

import re

__all__ = ["file_stem"]

#: What some file system refuses in a name (Microsoft, Naming files, paths and namespaces; from memory).
_REFUSED = re.compile(r'[\x00-\x1f\x7f\\/:*?"<>|\ud800-\udfff]+')
#: Bytes of UTF-8; names of files have 255 on most systems, and each part adds an ending of its own.
_LONGEST = 180


def file_stem(season: str) -> str:
    """Make a name of files out of the name of a season, which is kept where every file system takes it.

    Examples
    --------
    >>> file_stem("Sallow Levels (2026)"), file_stem("May/June?"), file_stem(" ..")
    ('Sallow Levels (2026)', 'May-June-', 'season')
    """
    plain = _REFUSED.sub("-", season).encode()[:_LONGEST].decode(errors="ignore")
    return plain.strip(" .") or "season"
