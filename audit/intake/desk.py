"""Pick a season and look over what its headers were taken for: widgets for a notebook, view only."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import ipywidgets as widgets

from audit.intake.mapping import IGNORE, HeaderMapping, HeaderMatch, write
from audit.widget_messages import hear_in_order

if TYPE_CHECKING:
    from audit.declarations import Declarations

__all__ = ["HeaderDesk", "SeasonPicker"]

_SUFFIXES = (".xlsx", ".xlsm", ".ods", ".csv")
#: In names of files that the program itself has written beside a season.
_MADE = (".marked", ".questions", ".clean")
#: Lies in every folder that was handed over: nothing in it is a season to look at.
_HANDED_OVER = "handover.json"
_UNSET = "not read"
_WIDE = widgets.Layout(width="34em")


class SeasonPicker(widgets.VBox):  # type: ignore[misc]  # ipywidgets carries no types
    """A list of the season files in a folder and the folders below it.

    Parameters
    ----------
    folder : str or Path
        Where to look.

    Attributes
    ----------
    path : Path or None
        The file picked; None where there is none.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        root = Path(folder)
        handed_over = {path.parent for path in root.rglob(_HANDED_OVER)}
        found = sorted(
            path
            for path in root.rglob("*")
            if path.suffix.lower() in _SUFFIXES
            and not path.name.startswith(("~", "."))
            and not any(made in path.name for made in _MADE)
            and not any(part.startswith(".") for part in path.relative_to(root).parts)
            and handed_over.isdisjoint(path.parents)
        )
        workbooks = [path for path in found if path.suffix.lower() != ".csv"]
        self.choice = widgets.Dropdown(
            options=[(str(path.relative_to(root)), path) for path in [*workbooks, *_tables(found)]],
            description="Season",
            layout=_WIDE,
        )
        self.told = widgets.HTML(
            "" if self.choice.options else f"No workbook and no .csv file was found in {root.resolve().name}."
        )
        super().__init__([self.choice, self.told])

    @property
    def path(self) -> Path | None:
        """The file picked."""
        picked: Path | None = self.choice.value
        return picked

    @property
    def own_schemas(self) -> Path | None:
        """The team's own declarations: a folder ``schemas`` beside the season, where there is one."""
        beside = None if self.path is None else self.path.parent / "schemas"
        return beside if beside is not None and beside.is_dir() else None


def _tables(found: list[Path]) -> list[Path]:
    """List .csv files, after the folders that hold several of them."""
    tables = [path for path in found if path.suffix.lower() == ".csv"]
    folders = sorted({path.parent for path in tables if path.with_name("handlings.csv") in tables})
    return [*folders, *(path for path in tables if path.parent not in folders)]


class HeaderDesk(widgets.VBox):  # type: ignore[misc]  # ipywidgets carries no types
    """Every header of a season with the column it was taken for; change what is wrong and save.

    Parameters
    ----------
    source : Path
        The season file; the mapping is saved beside it as ``<stem>.mapping.yaml``.
    mapping : HeaderMapping
        What the headers were taken for.
    declared : Declarations
        The columns that there are.
    """

    def __init__(
        self,
        source: Path,
        mapping: HeaderMapping,
        declared: Declarations,
    ) -> None:
        self.mapping = mapping
        self.place = source.with_name(f"{source.stem}.mapping.yaml")
        self.lines: list[tuple[HeaderMatch, widgets.Dropdown]] = []
        pages: dict[str, list[widgets.Widget]] = {}
        for match in mapping.matches:
            if not match.table:
                continue
            fields = [
                (f"{field.name}: {field.title}", field.name) for field in declared.tables[match.table].fields
            ]
            choice = widgets.Dropdown(
                options=[(_UNSET, ""), *fields],
                value=match.field,
                description=f"{match.letter}: {match.header}",
                tooltip=match.how,
                style={"description_width": "14em"},
                layout=_WIDE,
            )
            self.lines.append((match, choice))
            pages.setdefault(f"{match.sheet} ({match.table})", []).append(
                widgets.HBox([choice, widgets.Label(match.how)])
            )
        self.pages = widgets.Accordion(
            children=[widgets.VBox(lines) for lines in pages.values()], titles=list(pages)
        )
        self.save = widgets.Button(description="Save these columns", layout=widgets.Layout(width="16em"))
        self.save.on_click(lambda _: self._save())
        self.told = widgets.HTML(self._summary())
        super().__init__([self.told, self.pages, self.save])
        hear_in_order(self)

    def _summary(self) -> str:
        known = sum(bool(match.field) for match in self.mapping.matches)
        unknown = len(self.mapping.unknown())
        tail = f"; {unknown} are not known and are kept as they are" if unknown else ""
        return (
            f"{known} headers are understood{tail}. Open a sheet to look at them; save only what you changed."
        )

    def chosen(self) -> HeaderMapping:
        """Return the mapping as it now stands on the desk."""
        matches = tuple(
            HeaderMatch(m.sheet, m.table, m.header, m.letter, choice.value, "saved mapping")
            for m, choice in self.lines
        )
        return HeaderMapping(matches, self.mapping.sheets)

    def _save(self) -> None:
        write(self.chosen(), self.place)
        left = sum(not choice.value for _, choice in self.lines)
        self.told.value = f"Saved as {self.place.name}. {left} headers are marked '{IGNORE}'."
