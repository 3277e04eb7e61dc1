"""``meta.xml``: what each file of the archive holds.

References
----------
Darwin Core Text Guide (TDWG, modified 2015-06-02) and its schema ``tdwg_dwc_text.xsd``: order of elements,
and ``coreid`` in small letters, which the prose of the guide writes otherwise.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from lxml import etree

from audit.handover.darwin_core.plain_text import one_line

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from audit.declarations.darwin_core import DarwinCore

__all__ = ["FILES", "metafile"]

_TEXT = "http://rs.tdwg.org/dwc/text/"
_SCHEMA = "http://www.w3.org/2001/XMLSchema-instance"

#: Kind of row -> file, the core first.
FILES = {
    "event": "event.csv",
    "occurrence": "occurrence.csv",
    "measurement": "extendedmeasurementorfact.csv",
    "relationship": "resourcerelationship.csv",
}


def metafile(columns: Mapping[str, Sequence[str]], constants: Mapping[str, str], terms: DarwinCore) -> bytes:
    """Describe the files.

    Parameters
    ----------
    columns : mapping of str to sequence of str
        Kind of row -> names of its columns, the core first; the first column is the identity of the event.
    constants : mapping of str to str
        Terms that have one value in the whole core, such as the licence.

    Returns
    -------
    bytes
        XML, UTF-8.
    """
    # no prefix for the elements of the guide itself
    spaces: dict[str | None, str] = {None: _TEXT, "xsi": _SCHEMA}
    root = etree.Element(f"{{{_TEXT}}}archive", nsmap=cast("dict[str, str]", spaces))
    root.set(f"{{{_SCHEMA}}}schemaLocation", f"{_TEXT} {_TEXT}tdwg_dwc_text.xsd")
    root.set("metadata", "eml.xml")
    for kind, names in columns.items():
        core = kind == "event"
        body = etree.SubElement(
            root,
            f"{{{_TEXT}}}{'core' if core else 'extension'}",
            encoding="UTF-8",
            fieldsTerminatedBy=",",
            linesTerminatedBy="\\n",
            fieldsEnclosedBy='"',
            ignoreHeaderLines="1",
            rowType=terms.word(f"rows.{kind}"),
        )
        files = etree.SubElement(body, f"{{{_TEXT}}}files")
        etree.SubElement(files, f"{{{_TEXT}}}location").text = FILES[kind]
        etree.SubElement(body, f"{{{_TEXT}}}{'id' if core else 'coreid'}", index="0")
        for index, name in enumerate(names):
            if core or index:
                etree.SubElement(body, f"{{{_TEXT}}}field", index=str(index), term=terms.terms[name])
        if core:
            for name, value in constants.items():
                etree.SubElement(body, f"{{{_TEXT}}}field", term=terms.terms[name], default=one_line(value))
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)
