"""Read the shipped declarations, lay a team's folder over them, and check both."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from audit.declarations.darwin_core import DarwinCore, darwin_core_from
from audit.declarations.document import Document, merge, read_document
from audit.declarations.exchange import ExchangeDeclarations, exchange_from
from audit.declarations.form import check_form, near_words
from audit.declarations.gate import check_gate
from audit.declarations.kept_trees import keep_trees, kept_trees, reading_of
from audit.declarations.limit import Limit, limits_in, name_team_as_source
from audit.declarations.locate import schemas_folder
from audit.declarations.loggers import LoggerDeclarations, loggers_from
from audit.declarations.overlay import check_overlay
from audit.declarations.questions import RuleDeclaration, check_rules, rule_from
from audit.declarations.rings import RingDeclarations, rings_from
from audit.declarations.sender import Sender, sender_from
from audit.declarations.slips import SlipDeclarations, check_slips, slips_from
from audit.declarations.species import Species, species_from
from audit.declarations.tables import TableDeclaration, check_tables, table_from
from audit.declarations.tags import TagDeclarations, tags_from
from audit.refusal import DeclarationRefusal

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Declarations", "declarations_of", "load_declarations"]

#: Pairs of folders whose declarations are kept.
_KEPT = 4
#: How the files of a folder stand.
_Stand = tuple[tuple[str, int, int], ...]

#: Folder (or file stem) of a document -> the form it must fit.
_FORMS = {
    "tables": "table",
    "measured": "table",
    "rules": "rule",
    "species": "species",
    "rings": "rings",
    "tags": "tags",
    "season": "settings",
    "reading": "settings",
    "explain": "settings",
    "practice": "settings",
    "ledger": "settings",
    "review": "settings",
    "double_entry": "settings",
    "gate": "settings",
    "season_report": "settings",
    "antennas": "settings",
    "archive": "settings",
    "slips": "slips",
    "sender": "sender",
    "exchange": "exchange",
    "loggers": "loggers",
    "darwin_core": "darwin_core",
}

#: Folders in which a team may add files of its own.
_OPEN_FOLDERS = ("species",)

#: Folders (or file stems) whose numbers are asked for by name: another name is a slip.
_SETTLED = (
    "rules",
    "season",
    "reading",
    "explain",
    "practice",
    "ledger",
    "review",
    "double_entry",
    "gate",
    "season_report",
    "antennas",
    "archive",
    "loggers",
)

#: Parts of those in which a team names things of its own: forms of files, and words of its language.
_FREE = {
    "loggers": ("forms",),
    "reading": (
        *("ditto", "files", "letters", "meanings", "missing", "months", "no", "nought"),
        *("spreadsheet_errors", "times", "uncertain", "units", "weekdays", "yes"),
    ),
}


@dataclass(frozen=True, slots=True)
class Declarations:
    """Everything declared: tables, rules, species, rings, tags, slips, season.

    Attributes
    ----------
    settings : mapping of str to Limit
        Numbers of ``season.yaml``, ``reading.yaml``, ``explain.yaml``, ``practice.yaml``, ``ledger.yaml``,
        ``review.yaml``, ``double_entry.yaml``, ``gate.yaml``, ``season_report.yaml``, ``antennas.yaml`` and
        ``archive.yaml`` under dotted keys such as ``season.window.first_month``.
    sender : Sender
        Who sends the season.
    exchange : ExchangeDeclarations
        The exchange code in which records go to the ringing scheme.
    darwin_core : DarwinCore
        How a season is written as Darwin Core.
    measured : TableDeclaration
        The sheet of repeated measures of the same birds, which is no part of a season.
    loggers : LoggerDeclarations
        How the loggers of box antennas write their files.
    sources : tuple of Path
        Folders read, the shipped one first.
    """

    tables: Mapping[str, TableDeclaration]
    rules: Mapping[str, RuleDeclaration]
    species: Mapping[str, Species]
    rings: RingDeclarations
    tags: TagDeclarations
    slips: SlipDeclarations
    settings: Mapping[str, Limit]
    sender: Sender
    exchange: ExchangeDeclarations
    darwin_core: DarwinCore
    loggers: LoggerDeclarations
    measured: TableDeclaration
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

    Notes
    -----
    What was read is kept for as long as no file of either folder changes.
    """
    shipped = schemas_folder()
    return _load(shipped, own, _as_it_stands(shipped), () if own is None else _as_it_stands(own))


def declarations_of(schemas: str | Path | Declarations | None) -> Declarations:
    """Return the declarations of a team: a folder is read, declarations already read stay as they are."""
    if isinstance(schemas, Declarations):
        return schemas
    return load_declarations(None if schemas is None else Path(schemas))


def _as_it_stands(folder: Path) -> _Stand:
    """Name, moment of the last change and bytes of all that lies in a folder."""
    stands = []
    for path in sorted(folder.rglob("*")):
        try:
            stat = path.stat()
        except OSError:
            # whoever reads it says what is wrong with it
            stands.append((str(path), 0, 0))
        else:
            stands.append((str(path), stat.st_mtime_ns, stat.st_size))
    return tuple(stands)


@lru_cache(maxsize=_KEPT)
def _load(shipped: Path, own: Path | None, *_as_they_stand: _Stand) -> Declarations:
    return _read_anew(shipped, own) if own is not None else _read_shipped(shipped)


def _read_shipped(shipped: Path) -> Declarations:
    """Read the shipped declarations, or what was made of these very files before."""
    try:
        reading = reading_of(shipped)
    except OSError:
        # whoever reads the file in question says what is wrong with it
        return _read_anew(shipped, None)
    trees = kept_trees(reading)
    if trees is not None:
        # nothing in them is refused, so that nobody asks for a line
        return _assemble({name: Document(tree, {}) for name, tree in trees.items()}, (shipped,))
    documents = _checked(shipped, None)
    declared = _assemble(documents, (shipped,))
    if reading == reading_of(shipped):
        keep_trees(reading, {name: document.tree for name, document in documents.items()})
    return declared


def _read_anew(shipped: Path, own: Path | None) -> Declarations:
    sources = (shipped,) if own is None else (shipped, own)
    return _assemble(_checked(shipped, own), sources)


def _checked(shipped: Path, own: Path | None) -> dict[str, Document]:
    """Read all documents, a team's laid over the shipped ones, and refuse what is wrong in them."""
    read, forms = _as_shipped(shipped, _as_it_stands(shipped))
    documents = dict(read)
    if own is not None:
        for name, document in _read_own(own, documents).items():
            if name in documents:
                place = name.split("/")[0]
                form = forms[_FORMS[place]].tree
                free = _FREE.get(place, ())
                check_overlay(document, documents[name], form, settled=place in _SETTLED, free=free)
                document = merge(documents[name], document)  # noqa: PLW2901 - the same one, laid over
            documents[name] = document
    for name, document in documents.items():
        check_form(document, forms[_FORMS[name.split("/")[0]]].tree)
        if own is not None:
            documents[name] = name_team_as_source(document, own)
    check_tables(_inside("tables", documents))
    check_tables({"measured": documents["measured"]})
    check_rules(_inside("rules", documents))
    check_slips(documents["slips"])
    check_gate(documents["gate"], _inside("rules", documents))
    return documents


@lru_cache(maxsize=1)
def _as_shipped(shipped: Path, _as_they_stand: _Stand) -> tuple[dict[str, Document], dict[str, Document]]:
    """Read the shipped documents and the forms that they must fit: many teams are laid over them."""
    forms = {name: read_document(shipped / "forms" / f"{name}.yaml") for name in {*_FORMS.values()}}
    return _read_folder(shipped), forms


def _read_own(own: Path, shipped: Mapping[str, Document]) -> dict[str, Document]:
    if not own.is_dir():
        raise DeclarationRefusal(
            "This folder of declarations does not exist.",
            where=str(own),
            cure="Name a folder that holds files such as season.yaml or species/barn_owl.yaml.",
        )
    documents = _read_folder(own, shipped)
    if not documents and any(own.iterdir()):
        raise DeclarationRefusal(
            "This folder holds no declaration.",
            where=str(own),
            cure="Name a folder that holds files such as season.yaml or species/barn_owl.yaml.",
        )
    return documents


def _read_folder(folder: Path, shipped: Mapping[str, Document] | None = None) -> dict[str, Document]:
    documents: dict[str, Document] = {}
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        hidden = any(part.startswith(".") for part in inside.parts)
        if hidden or inside.parts[0] == "forms" or path.suffix.lower() not in (".yaml", ".yml"):
            continue
        name = inside.with_suffix("").as_posix()
        place, _, rest = name.partition("/")
        known = place in _FORMS if shipped is None else name in shipped or (rest and place in _OPEN_FOLDERS)
        if not known:
            files = sorted(f"{other}.yaml" for other in shipped or _FORMS)
            placed = [other for other in files if other.rpartition("/")[2] == f"{inside.stem}.yaml"]
            near = f"Did you mean '{placed[0]}'? " if placed else near_words(f"{name}.yaml", files)
            raise DeclarationRefusal(
                "No declaration has this name.", where=str(path), cure=f"{near}Known: {', '.join(files)}."
            )
        if name in documents:
            raise DeclarationRefusal(
                f"This file and {documents[name].place()[0].name} declare the same.",
                where=str(path),
                cure="Keep one of the two.",
            )
        documents[name] = read_document(path)
    return documents


def _inside(folder: str, documents: Mapping[str, Document]) -> dict[str, Document]:
    return {
        name.partition("/")[2]: document
        for name, document in documents.items()
        if name.startswith(f"{folder}/")
    }


def _assemble(documents: Mapping[str, Document], sources: tuple[Path, ...]) -> Declarations:
    return Declarations(
        tables={name: table_from(document) for name, document in _inside("tables", documents).items()},
        rules={name: rule_from(document) for name, document in _inside("rules", documents).items()},
        species={
            name: species_from(name, document) for name, document in _inside("species", documents).items()
        },
        rings=rings_from(documents["rings"]),
        tags=tags_from(documents["tags"]),
        slips=slips_from(documents["slips"]),
        settings={
            f"{name}.{key}": limit
            for name, form in _FORMS.items()
            if form == "settings" and name in documents
            for key, limit in limits_in(documents[name].tree)
        },
        sender=sender_from(documents["sender"]),
        exchange=exchange_from(documents["exchange"]),
        darwin_core=darwin_core_from(documents["darwin_core"]),
        loggers=loggers_from(documents["loggers"]),
        measured=table_from(documents["measured"]),
        sources=sources,
    )
