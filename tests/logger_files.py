"""The same invented reads of box antennas, written as the files of many kinds of loggers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from pathlib import Path

    from audit.models.reads import Reads

ANTENNAS = np.array(["outer", "inner"])


def table(reads: Reads, *, boxes: int = 99) -> pd.DataFrame:
    """The canonical table `detections`, in the order of time."""
    frame = pd.DataFrame(
        {
            "box": [f"SL-{code + 1:02d}" for code in reads.box.tolist()],
            "antenna": ANTENNAS[reads.antenna],
            "detected_at": pd.to_datetime(reads.at, unit="ms"),
            "tag": [f"{999_000_000_100_000 + code:015d}" for code in reads.tag.tolist()],
        }
    )
    frame = frame[reads.box < boxes]
    return frame.sort_values(["detected_at", "box", "tag", "antenna"], kind="stable", ignore_index=True)


def stamped(frame: pd.DataFrame, form: str, digits: int = 3) -> pd.Series:
    """Moments as text; ``%f`` is cut to so many digits."""
    texts = frame["detected_at"].dt.strftime(form)
    return texts.str[: digits - 6] if form.endswith("%f") and digits < 6 else texts


def canonical(frame: pd.DataFrame, path: Path) -> Path:
    frame.assign(detected_at=stamped(frame, "%Y-%m-%dT%H:%M:%S.%f")).to_csv(path, index=False)
    return path


def german(frame: pd.DataFrame, path: Path) -> Path:
    """Day, time and thousandths apart, semicolons, a few lines before the header."""
    out = pd.DataFrame(
        {
            "Kasten": frame["box"],
            "Antenne": np.where(frame["antenna"] == "outer", "außen", "innen"),
            "Datum": frame["detected_at"].dt.strftime("%d.%m.%Y"),
            "Uhrzeit": stamped(frame, "%H:%M:%S.%f").str.replace(".", ",", regex=False),
            "Transponder": frame["tag"],
        }
    )
    path.write_text("Logger 7\nDatei 1\n\n" + out.to_csv(index=False, sep=";"), encoding="utf-8")
    return path


def headerless(frame: pd.DataFrame, path: Path) -> Path:
    """No header, tabs, the order of columns another one."""
    out = pd.DataFrame(
        {0: frame["tag"], 1: stamped(frame, "%d/%m/%Y %H:%M:%S.%f"), 2: frame["antenna"], 3: frame["box"]}
    )
    out.to_csv(path, index=False, header=False, sep="\t", lineterminator="\r\n")
    return path


def by_box_and_antenna(frame: pd.DataFrame, folder: Path) -> Path:
    """One file for each box and antenna, with the tag and the moment only."""
    folder.mkdir()
    for (box, antenna), part in frame.groupby(["box", "antenna"]):
        out = pd.DataFrame({"time": stamped(part, "%Y-%m-%d %H:%M:%S.%f"), "tag": part["tag"]})
        out.to_csv(folder / f"{box}_{antenna}_2026.txt", index=False)
    return folder


def numbered(frame: pd.DataFrame, path: Path) -> Path:
    """Columns by position, antennas by number; needs a form."""
    out = pd.DataFrame(
        {
            0: np.where(frame["antenna"] == "outer", 2, 1),
            1: frame["detected_at"].dt.strftime("%y%m%d"),
            2: frame["detected_at"].dt.strftime("%H%M%S"),
            3: frame["detected_at"].dt.microsecond // 1000,
            4: frame["tag"],
            5: frame["box"].str.removeprefix("SL-").astype(int),
        }
    )
    out.to_csv(path, index=False, header=False, sep=";")
    return path


#: Declares the former.
NUMBERED = """
forms:
  numbered:
    files: "*.log"
    separator: ";"
    header: false
    columns: {antenna: 1, date: 2, time: 3, milliseconds: 4, tag: 5, box: 6}
    time_format: "%y%m%d %H%M%S"
    antennas: {"2": outer, "1": inner}
"""
