"""Read the shipped declarations, lay a team's folder over them, and check both."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from audit.declarations.document import Document, check_form, merge, read_document
from audit.declarations.limit import Limit, limits_in
from audit.declarations.locate import schemas_folder
from audit.declarations.questions import RuleDeclaration, rule_from
from audit.declarations.rings import RingDeclarations, rings_from
from audit.declarations.species import Species, species_from
from audit.declarations.tables import TableDeclaration, table_from
from audit.declarations.tags import TagDeclarations, tags_from
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

__all__ = ["Declarations", "load_declarations"]

#: Folder (or file stem) of a document -> the form it must fit.
_FORMS = {
    "tables": "table",
    "rules": "rule",
    "species": "species",
    "rings": "rings",
    "tags": "tags",
    "season": "settings",
    "reading": "settings",
}

#: Folders in which a team may add files of its own.
_OPEN_FOLDERS = ("species",)


@dataclass(frozen=True, slots=True)
class Declarations:
    """Everything declared: tables, rules, species, rings, tags, season.

    Attributes
    ----------
    settings : mapping of str to Limit
        Numbers of ``season.yaml`` and ``reading.yaml`` under dotted keys such as ``season.window.first_month``.
    sources : tuple of Path
        Folders read, the shipped one first.
    """

    tables: Mapping[str, TableDeclaration]
    rules: Mapping[str, RuleDeclaration]
    species: Mapping[str, Species]
    rings: RingDeclarations
    tags: TagDeclarations
    settings: Mapping[str, Limit]
    sources: tuple[Path, ...] = ()


def load_declarations(own: Path | None = None) -> Declarations:
    """Read all declarations.

    Parameters
    ----------
    own : Path, optional
        A team's folder, laid over the shipped one key by key. Files have the same names as the
        shipped ones; new files are allowed in ``species/`` only.

    Raises
    ------
    DeclarationRefusal
        A file or key is wrong: with file, line and cure.
    """
    shipped = schemas_folder()
    documents = _read_folder(shipped)
    sources = [shipped]
    if own is not None:
        if not own.is_dir():
            raise DeclarationRefusal(
                "This folder of declarations does not exist.",
                where=str(own),
                cure="Name a folder that holds files such as season.yaml or species/barn_owl.yaml.",
            )
        sources.append(own)
        for name, document in _read_folder(own).items():
            if name in documents:
                documents[name] = merge(documents[name], document)
            elif name.split("/")[0] in _OPEN_FOLDERS and "/" in name:
                documents[name] = document
            else:
                near = difflib.get_close_matches(name, documents, n=1)
                raise DeclarationRefusal(
                    "No declaration has this name.",
                    where=document.where(),
                    cure=(f"Did you mean {near[0]}.yaml? " if near else "")
                    + f"Known: {', '.join(sorted(f'{known}.yaml' for known in documents))}.",
                )
    forms: dict[str, Document] = {}
    for name, document in documents.items():
        form = _FORMS[name.split("/")[0]]
        if form not in forms:
            forms[form] = read_document(shipped / "forms" / f"{form}.yaml")
        check_form(document, forms[form].tree)
    return _assemble(documents, tuple(sources))


def _read_folder(folder: Path) -> dict[str, Document]:
    documents = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).with_suffix("").as_posix()
        first = name.split("/")[0]
        if path.is_dir() or first == "forms" or path.name.startswith("."):
            continue
        if path.suffix not in (".yaml", ".yml"):
            continue
        if first not in _FORMS:
            near = difflib.get_close_matches(first, _FORMS, n=1)
            raise DeclarationRefusal(
                "No declaration has this name.",
                where=str(path),
                cure=(f"Did you mean {near[0]}? " if near else "") + f"Known: {', '.join(sorted(_FORMS))}.",
            )
        documents[name] = read_document(path)
    return documents


def _assemble(documents: Mapping[str, Document], sources: tuple[Path, ...]) -> Declarations:
    def inside(folder: str) -> list[tuple[str, Document]]:
        return [
            (name.partition("/")[2], document)
            for name, document in documents.items()
            if name.startswith(f"{folder}/")
        ]

    return Declarations(
        tables={name: table_from(document) for name, document in inside("tables")},
        rules={name: rule_from(document) for name, document in inside("rules")},
        species={name: species_from(name, document) for name, document in inside("species")},
        rings=rings_from(documents["rings"]),
        tags=tags_from(documents["tags"]),
        settings={
            f"{name}.{key}": limit
            for name in ("season", "reading")
            if name in documents
            for key, limit in limits_in(documents[name].tree)
        },
        sources=sources,
    )
