"""The report as one page: nothing to fetch, nothing to run, fit for a phone and for paper."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from audit.charts.palette import BAND, INK
from audit.handover.season_report.content import Drawing, Heading, Items, Rows, Words
from audit.review.page_look import whole_page
from audit.review.typed_rows import safe

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from audit.handover.season_report.content import Block, Contents

__all__ = ["page_text"]

#: Tables with more lines than this are folded; a click or print opens them.
_OPEN_UP_TO = 80
#: A column whose longest text has no more signs than this is never broken.
_NARROW = 18
_FROM_RIGHT = frozenset({"R", "AL"})
_STYLE = f"""
body{{max-width:62rem}}
caption{{white-space:normal;font-size:.9rem;padding-top:.5rem}}
.wide{{overflow-x:auto;max-width:100%}}
.wide:focus{{outline:2px solid {BAND}}}
.wide td,.wide tbody th{{white-space:nowrap}}
.wide .t{{white-space:normal;overflow-wrap:anywhere;min-width:13rem}}
td.c{{font-size:.72rem;font-family:monospace}}
tbody th{{color:{INK}}}
tr.sum th,tr.sum td{{border-top:2px solid {BAND};font-weight:bold}}
.way{{padding:0;margin:1rem 0;list-style:none;display:flex;flex-wrap:wrap;gap:.2rem 1.1rem;font-size:.9rem}}
figure{{break-inside:avoid;overflow-x:auto}}
@media (max-width:40rem){{body{{margin:1rem auto;padding:0 .8rem}}h1{{font-size:1.3rem}}
figure svg{{max-width:none;width:38rem}}.wide .t{{min-width:7.5rem}}
.wide th,.wide td{{padding:.15rem .35rem}}}}
@media print{{@page{{size:A4 portrait;margin:14mm}}
.way{{display:none}}.wide,figure{{overflow:visible}}
.wide .t{{min-width:0}}.wide table{{font-size:7.6pt}}.wide th,.wide td{{padding:.1rem .25rem}}
td.c{{font-size:6pt}}
thead th{{white-space:normal}}h2,h3,caption{{break-after:avoid}}thead{{display:table-header-group}}
table{{break-inside:auto}}tr{{break-inside:avoid}}details{{border:0;padding:0}}summary{{display:none}}}}
"""


def page_text(told: Contents) -> str:
    """Return the whole page."""
    heads = [block.text for block in told.blocks if isinstance(block, Heading)]
    links = "".join(f'<li><a href="#s{number}">{safe(text)}</a></li>' for number, text in enumerate(heads, 1))
    way = f'<nav aria-label="sections"><ul class="way">{links}</ul></nav>'
    return whole_page(_shown(told.title), "\n".join([way, *_blocks(told.blocks)]), _STYLE)


def _blocks(blocks: Sequence[Block]) -> Iterator[str]:
    number = 0
    for block in blocks:
        match block:
            case Heading(text):
                number += 1
                yield f'<h2 id="s{number}">{_shown(text)}</h2>'
            case Words(text, tone, start):
                bold = f"<strong>{_shown(start)}</strong> " if start else ""
                named = "" if tone == "plain" else f' class="{tone}"'
                yield f"<p{named}>{bold}{_shown(text)}</p>"
            case Items(texts):
                yield f"<ul>{''.join(f'<li>{_shown(text)}</li>' for text in texts)}</ul>"
            case Drawing(svg, text):
                yield f"<figure>{svg}<figcaption>{_shown(text)}</figcaption></figure>"
            case Rows():
                yield _table(block)


def _table(rows: Rows) -> str:
    kinds = [_kind(rows, i) for i in range(len(rows.heads))]
    heads = "".join(
        f'<th scope="col"{kind}>{_shown(head)}</th>' for head, kind in zip(rows.heads, kinds, strict=True)
    )
    last = len(rows.lines) if rows.total else 0
    lines = "\n".join(_line(line, kinds, is_sum=at == last) for at, line in enumerate(rows.lines, 1))
    caption = _shown(rows.caption)
    table = (
        f'<div class="wide" role="region" aria-label="{safe(rows.caption)}" tabindex="0"><table>'
        f"<caption>{caption}</caption><thead><tr>{heads}</tr></thead>\n<tbody>{lines}</tbody></table></div>"
    )
    if len(rows.lines) <= _OPEN_UP_TO:
        return table
    return f"<details><summary>{caption}</summary>{table}</details>"


def _kind(rows: Rows, column: int) -> str:
    if column in rows.numbers:
        return ' class="n"'
    if column in rows.codes:
        return ' class="c"'
    return ' class="t"' if max((len(line[column]) for line in rows.lines), default=0) > _NARROW else ""


def _line(line: Sequence[str], kinds: Sequence[str], *, is_sum: bool) -> str:
    named = ' class="sum"' if is_sum else ""
    cells = "".join(f"<td{kind}>{_shown(text)}</td>" for text, kind in zip(line[1:], kinds[1:], strict=True))
    return f'<tr{named}><th scope="row"{kinds[0]}>{_shown(line[0])}</th>{cells}</tr>'


def _shown(text: str) -> str:
    """Make text safe; a number keeps its percent sign, and text from the right keeps to itself."""
    out = re.sub(r"(?<=\d) %", "&nbsp;%", safe(text))
    if text.isascii() or not any(unicodedata.bidirectional(sign) in _FROM_RIGHT for sign in text):
        return out
    return f"<bdi>{out}</bdi>"
