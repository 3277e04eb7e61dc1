"""The first page of a handover: what lies in the folder, and what to do before any of it is sent."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from audit.handover.terminal import on_one_line, wrapped
from audit.review.page_look import piece, whole_page
from audit.review.typed_rows import safe
from audit.review.wording import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from audit.handover.handover_record import FileSum, HandoverRecord

__all__ = ["cover_page", "cover_piece", "cover_text"]

_CAUTION = (
    "Your licence, your scheme's rules and local law come before anything in this folder. Nest sites of "
    "protected birds are not for everybody: send exact places only to those who may know them."
)
_SHOWN = 16  # signs of a checksum that tell two files apart by eye
_KILO = 1000
_WIDTH = 80  # signs of a line on a terminal


def cover_page(record: HandoverRecord) -> str:
    """Return the whole page; it reads well without JavaScript and in print."""
    return whole_page(f"Handover of season {safe(record.season)}", "\n".join(_body(record)))


def cover_piece(record: HandoverRecord, where: str) -> str:
    """Return the same for use in a notebook, with the place of the folder in front."""
    return piece("\n".join([f"<p>Written to <code>{safe(where)}</code>.</p>", *_body(record)]))


def cover_text(record: HandoverRecord, where: str) -> str:
    """Say in plain words what was written and what is to be done before it is sent."""
    lines = wrapped(on_one_line(_verdict(record)), _WIDTH)
    for sentence in record.left_open:
        lines += wrapped(on_one_line(f"open: {sentence}"), _WIDTH, "  ")
    parts = [part for part in record.parts if part.told]
    if parts:
        lines += ["", "To know before you send it:"]
    for part in parts:
        lines.append(f"  {on_one_line(part.title)}")
        for sentence in part.told:
            lines += wrapped(on_one_line(sentence), _WIDTH, "  - ")
    written = [f"Written to {where}:", *(f"  {one.name}" for one in record.outputs)]
    return "\n".join([*lines, "", *map(on_one_line, written)])


def _verdict(record: HandoverRecord) -> str:
    if record.gate_open:
        return f"{record.season}: handed over, the gate was open."
    why = "" if record.despite is None else f" {record.despite.who} gave the reason: {record.despite.why}"
    return (
        f"{record.season}: handed over although the gate was shut, with "
        f"{counted(len(record.left_open), 'thing')} left open.{why}"
    )


def _body(record: HandoverRecord) -> Iterator[str]:
    yield f'<p class="lead">{safe(_verdict(record))}</p>'
    yield (
        f"<p>Made {safe(record.made_at)} from {counted(len(record.inputs), 'file')} and "
        f"{counted(record.decisions, 'decision')}. No file that was read was written to.</p>"
    )
    if record.left_open:
        yield "<h2>What stayed open</h2><ul>"
        yield from (f"<li>{safe(sentence)}</li>" for sentence in record.left_open)
        yield "</ul>"
    if any(part.told for part in record.parts):
        yield "<h2>To know before you send it</h2>"
        for part in record.parts:
            if part.told:
                yield f"<h3>{safe(part.title)}</h3><ul>"
                yield from (f"<li>{safe(sentence)}</li>" for sentence in part.told)
                yield "</ul>"
    yield f'<section class="caution"><p>{_CAUTION}</p></section>'
    yield "<h2>What lies in this folder</h2>"
    by_name = {one.name: one for one in record.outputs}
    yield from _files(
        {
            part.title: [by_name[name] for name in part.files if name in by_name]
            for part in record.parts
            if part.files
        }
    )
    yield (
        "<p><code>handover.json</code> holds this page for programs; <code>checksums.sha256</code> tells "
        "whether a file is still as it was written (<code>sha256sum --check checksums.sha256</code>).</p>"
    )
    yield "<h2>What it was made from</h2>"
    yield from _files({"": record.inputs})
    yield f"<p>Declarations, the later over the earlier: {safe(', '.join(record.declarations))}.</p>"
    yield f"<p>Versions: {safe(', '.join(f'{name} {version}' for name, version in record.versions))}.</p>"


def _files(groups: Mapping[str, Sequence[FileSum]]) -> Iterator[str]:
    """Table of files, those of one part together; what lies in the folder is linked."""
    yield '<table><thead><tr><th scope="col">file</th><th scope="col" class="n">kB</th>'
    yield '<th scope="col">SHA-256 begins with</th></tr></thead>'
    for title, files in groups.items():
        yield "<tbody>"
        if title:
            yield f'<tr><th scope="rowgroup" colspan="3"><strong>{safe(title)}</strong></th></tr>'
        for one in files:
            name = f'<a href="{quote(one.name)}">{safe(one.name)}</a>' if title else safe(one.name)
            yield (
                f'<tr><th scope="row">{name}</th><td class="n">{max(1, round(one.size / _KILO)):,}</td>'
                f"<td><code>{one.sha256[:_SHOWN]}</code></td></tr>"
            )
        yield "</tbody>"
    yield "</table>"
