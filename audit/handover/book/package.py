"""The parts of a workbook file: a zip of XML parts, tied by relationships and content types.

Only what has to change is parsed; every other part goes to the copy as it stands.

References
----------
ISO/IEC 29500-2 (Open Packaging Conventions): parts, relationships, content types.
"""

from __future__ import annotations

import posixpath
import zipfile
import zlib
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING

from lxml import etree

from audit.refusal import SeasonRefusal

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from lxml.etree import _Element as Element

__all__ = ["Package", "Relation", "parse", "serialise"]

_RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
_TYPES_PART = "[Content_Types].xml"
#: The first moment that a zip can hold: new parts get it, so that the same input gives the same bytes.
_NO_DATE = (1980, 1, 1, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class Relation:
    """A tie from one part to another.

    Attributes
    ----------
    identity : str
        Such as ``rId3``.
    kind : str
        Last word of the relationship type, such as ``worksheet``.
    part : str
        Name of the other part; empty for a target outside the file.
    """

    identity: str
    kind: str
    part: str


class Package:
    """A workbook file, opened for making a changed copy.

    Raises
    ------
    audit.refusal.SeasonRefusal
        The file is no zip, damaged, or protected by a password.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._changed: dict[str, bytes] = {}
        try:
            self._zip = zipfile.ZipFile(path)
        except (OSError, zipfile.BadZipFile) as fault:
            raise self._refuse() from fault
        self._names = dict.fromkeys(self._zip.namelist())
        self._root = self._find_root()

    def _refuse(self) -> SeasonRefusal:
        return SeasonRefusal(
            "The workbook cannot be opened for a marked copy.",
            where=str(self._path),
            cure="If it has a password, save a copy without one; if it is damaged, open it and save it anew.",
        )

    def _find_root(self) -> tuple[str, str]:
        for element in self._relation_elements(""):
            base, _, kind = str(element.get("Type")).rpartition("/")
            if kind == "officeDocument":
                return base, posixpath.normpath(str(element.get("Target")).lstrip("/"))
        raise self._refuse()

    @property
    def base(self) -> str:
        """Namespace of the relationship types, which differs in strict files."""
        return self._root[0]

    @property
    def workbook(self) -> str:
        """Name of the workbook part."""
        return self._root[1]

    def __contains__(self, part: str) -> bool:
        return part in self._names

    def names(self) -> Iterable[str]:
        """Names of all parts."""
        return self._names.keys()

    def read(self, part: str) -> bytes:
        """Bytes of a part, as changed so far."""
        if part in self._changed:
            return self._changed[part]
        try:
            return self._zip.read(part)
        except (KeyError, RuntimeError, zipfile.BadZipFile, zlib.error, EOFError) as fault:
            raise self._refuse() from fault

    def write(self, part: str, content: bytes) -> None:
        """Replace a part, or add one."""
        self._changed[part] = content
        self._names.setdefault(part)

    def remove(self, part: str) -> None:
        """Take a part out, with its content type and the ties of the workbook to it."""
        self._names.pop(part, None)
        self._changed.pop(part, None)
        ties = _relations_part(self.workbook)
        for name, at in ((_TYPES_PART, "PartName"), (ties, "Target")):
            root = parse(self.read(name))
            for child in list(root):
                target = str(child.get(at, ""))
                base = "/" if at == "PartName" else posixpath.join("/", posixpath.dirname(self.workbook))
                inside = child.get("TargetMode") != "External"
                if inside and target and posixpath.normpath(posixpath.join(base, target)) == f"/{part}":
                    root.remove(child)
            self.write(name, serialise(root))

    def new_name(self, before: str, after: str) -> str:
        """Find a free part name such as ``xl/comments3.xml``."""
        taken = {name.lower() for name in self._names}
        number = 1
        while f"{before}{number}{after}".lower() in taken:
            number += 1
        return f"{before}{number}{after}"

    def relations(self, part: str) -> list[Relation]:
        """List the ties of a part."""
        found = []
        for element in self._relation_elements(part):
            target = str(element.get("Target"))
            inside = element.get("TargetMode") != "External"
            found.append(
                Relation(
                    identity=str(element.get("Id")),
                    kind=str(element.get("Type")).rpartition("/")[2],
                    part=posixpath.normpath(posixpath.join("/", posixpath.dirname(part), target)).lstrip("/")
                    if inside
                    else "",
                )
            )
        return found

    def relate(self, part: str, kind: str, other: str) -> str:
        """Tie a part to another and return the identity of the tie."""
        name = _relations_part(part)
        root = parse(self.read(name)) if name in self else etree.Element(f"{{{_RELATIONS}}}Relationships")
        taken = {str(child.get("Id")) for child in root}
        number = len(root) + 1
        while f"rId{number}" in taken:
            number += 1
        identity = f"rId{number}"
        etree.SubElement(
            root,
            f"{{{_RELATIONS}}}Relationship",
            {"Id": identity, "Type": f"{self.base}/{kind}", "Target": f"/{other}"},
        )
        self.write(name, serialise(root))
        return identity

    def declare(self, part: str, content_type: str) -> None:
        """Enter the content type of one part."""
        self._add_type("Override", "PartName", f"/{part}", content_type)

    def declare_extension(self, extension: str, content_type: str) -> None:
        """Enter the content type of all parts with an extension, unless there is one."""
        self._add_type("Default", "Extension", extension, content_type)

    def _add_type(self, tag: str, key: str, value: str, content_type: str) -> None:
        root = parse(self.read(_TYPES_PART))
        for child in root.iterfind(f"{{{_TYPES}}}{tag}"):
            if str(child.get(key)).lower() == value.lower():
                return
        entry = etree.Element(f"{{{_TYPES}}}{tag}", {key: value, "ContentType": content_type})
        if tag == "Default":
            root.insert(0, entry)
        else:
            root.append(entry)
        self.write(_TYPES_PART, serialise(root))

    def _relation_elements(self, part: str) -> list[Element]:
        name = _relations_part(part)
        return list(parse(self.read(name))) if name in self else []

    def save(self, path: Path | IO[bytes]) -> None:
        """Write the copy: untouched parts as they stand, in their order, new parts after them."""
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as target:
            infos = {info.filename: info for info in self._zip.infolist()}
            for part in self._names:
                old = infos.get(part)
                entry = zipfile.ZipInfo(part, old.date_time if old else _NO_DATE)
                entry.compress_type = old.compress_type if old else zipfile.ZIP_DEFLATED
                entry.external_attr = old.external_attr if old else 0
                target.writestr(entry, self.read(part))

    def close(self) -> None:
        """Let go of the source file."""
        self._zip.close()


def _relations_part(part: str) -> str:
    folder, name = posixpath.split(part)
    return posixpath.join(folder, "_rels", f"{name}.rels")


def parse(content: bytes) -> Element:
    """Parse a part; entities are not resolved and nothing is fetched."""
    parser = etree.XMLParser(resolve_entities=False, no_network=True, huge_tree=True)
    return etree.fromstring(content, parser)


def serialise(root: Element) -> bytes:
    """Write a part as UTF-8 with an XML declaration."""
    return etree.tostring(root.getroottree(), xml_declaration=True, encoding="UTF-8", standalone=True)
