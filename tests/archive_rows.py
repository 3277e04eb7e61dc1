"""Small invented archives, for every engine: rows with few columns, by number."""

from __future__ import annotations

import duckdb
import narwhals as nw
import pandas as pd

from audit.archive.engine import Raw
from audit.archive.laid import words_of
from audit.archive.laid_out import laid_out
from audit.archive.marks import marked
from audit.declarations import load_declarations

DECLARED = load_declarations()
TABLE = DECLARED.tables["handlings"]
ENGINES = ("pandas", "duckdb")

#: A nestling of the invented round, ringed.
BIRD = {
    "scheme": "",
    "team": "",
    "date": "2019-06-01",
    "box": "SL-01",
    "species": "barn owl",
    "ring": "SV00001",
    "tag": "",
    "age": "1",
    "event": "ringed",
    "sex": "U",
    "condition": "",
    "remarks": "",
    "gross_g": 395.0,
    "bag_g": 22.0,
    "net_g": 373.0,
    "wing_mm": 180.0,
}
#: The same, full-grown and met again two years later.
AGAIN = {"date": "2021-05-01", "age": "7", "event": "re-encountered", "wing_mm": 290.0, "sex": "F"}


def frame_of(*rows: dict[str, object]) -> pd.DataFrame:
    """Number the rows from 0; what a row does not say is as in `BIRD`."""
    frame = pd.DataFrame([{**BIRD, **row} for row in rows])
    texts = [name for name in frame.columns if not name.endswith(("_g", "_mm"))]
    frame[texts] = frame[texts].astype("str")
    return frame.assign(at=range(len(frame)), file=0, row=range(2, len(frame) + 2))


class FrameEngine:
    """Relations on pandas frames, in memory: for comparison."""

    def table(self, frame: pd.DataFrame, _name: str) -> nw.LazyFrame:
        return nw.from_native(frame).lazy()

    def keep(self, relation: nw.LazyFrame, _name: str) -> nw.LazyFrame:
        return relation

    def frame(self, relation: nw.LazyFrame) -> pd.DataFrame:
        return relation.to_native().reset_index(drop=True)


#: One connection, since opening one costs more than all that is asked of it here.
_CONNECTION = duckdb.connect()
_CONNECTION.execute("set threads = 1")


def relation(frame: pd.DataFrame, engine: str) -> nw.LazyFrame:
    """Make a frame known to an engine."""
    if engine == "pandas":
        return nw.from_native(frame).lazy()
    name = f"given_{len(_CONNECTION.execute('show tables').fetchall())}"
    _CONNECTION.register("given", frame)
    _CONNECTION.table("given").create(name)
    return nw.from_native(_CONNECTION.table(name))


def kept(found: nw.LazyFrame) -> nw.LazyFrame:
    """Work a relation out once, as an engine does: else each question asks all before it again."""
    native = found.to_native()
    return found if isinstance(native, pd.DataFrame) else relation(native.df(), "duckdb")


def raw_of(frame: pd.DataFrame, engine: str) -> Raw:
    """Say how the columns of a frame are stored."""
    stored = {
        name: "number" if pd.api.types.is_numeric_dtype(frame[name]) else "text"
        for name in frame.columns
        if name not in ("at", "file", "row")
    }
    return Raw(relation(frame, engine), stored)


def rows_of(frame: pd.DataFrame, engine: str) -> nw.LazyFrame:
    """Lay the rows of a frame out."""
    raw = raw_of(frame, engine)
    return kept(laid_out(raw.rows, raw.stored, TABLE))


def marks_of(frame: pd.DataFrame, engine: str) -> nw.LazyFrame:
    """Take from a frame what birds are known by."""
    return kept(marked(rows_of(frame, engine), words_of(frame["species"].unique().tolist(), DECLARED)))


def worked_out(found: nw.LazyFrame) -> pd.DataFrame:
    """Work a relation out, sorted."""
    native = found.to_native()
    frame = native if isinstance(native, pd.DataFrame) else native.df()
    return frame.sort_values(list(frame.columns)).reset_index(drop=True)
