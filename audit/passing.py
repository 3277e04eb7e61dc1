"""From the log of box antennas to passages of birds, and to when each antenna could be trusted."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from audit.antennas import relations
from audit.antennas.box_models import Models
from audit.antennas.clock import Clocks
from audit.antennas.declared_tags import unmet_tags
from audit.antennas.followed import follow, without_repeats
from audit.antennas.hands import Hands
from audit.antennas.log import open_log
from audit.antennas.over_boxes import ends_of, heard_of
from audit.declarations import declarations_of
from audit.handover.passages.clock_record import CLOCK_COLUMNS, clock_rows
from audit.handover.passages.clock_words import clock_sentences, clocks_beside_sheet
from audit.handover.passages.efficiency_rows import EFFICIENCY_COLUMNS, efficiency_rows
from audit.handover.passages.lone_antennas import lone_antennas
from audit.handover.passages.passages_files import (
    HEALTH_COLUMNS,
    PASSAGE_COLUMNS,
    health_rows,
    passage_rows,
    write_passages,
)
from audit.handover.passages.passages_record import (
    FileTold,
    Heard,
    NightsHeard,
    PassagesRecord,
)
from audit.handover.passages.passages_text import passages_text
from audit.handover.passages.unmet_words import unmet_sentences

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence

    import pandas as pd

    from audit.antennas.detection_log import DetectionLog
    from audit.charts.living import Living
    from audit.declarations import Declarations

__all__ = ["Models", "Passed", "passages"]


@dataclass(frozen=True, slots=True)
class Passed:
    """What became of a log: shown as a summary, written as files.

    Attributes
    ----------
    record : PassagesRecord
    source : Path
        The log, which is never written to.
    """

    record: PassagesRecord
    source: Path

    def __repr__(self) -> str:
        return passages_text(self.record)

    def _repr_html_(self) -> str:
        return f"<pre style='white-space:pre-wrap'>{escape(passages_text(self.record))}</pre>"

    def table(self) -> pd.DataFrame:
        """Give the passages as in ``passages.csv``."""
        import pandas as pd

        frame = pd.DataFrame(list(passage_rows(self.record)), columns=list(PASSAGE_COLUMNS))
        return frame.assign(passage_at=pd.to_datetime(frame["passage_at"]), p=frame["p"].astype(float))

    def antenna_health(self) -> pd.DataFrame:
        """Give the state of the antennas as in ``antenna_health.csv``."""
        import pandas as pd

        frame = pd.DataFrame(list(health_rows(self.record)), columns=list(HEALTH_COLUMNS))
        efficiency = pd.to_numeric(frame["efficiency"])
        moments = {name: pd.to_datetime(frame[name]) for name in ("from", "to")}
        return frame.assign(efficiency=efficiency, **moments)

    def antenna_efficiency(self) -> pd.DataFrame:
        """Give how well the antennas of each box heard, as in ``antenna_efficiency.csv``."""
        import pandas as pd

        frame = pd.DataFrame(list(efficiency_rows(self.record)), columns=list(EFFICIENCY_COLUMNS))
        return frame.assign(**{name: pd.to_numeric(frame[name]) for name in EFFICIENCY_COLUMNS[1:]})

    def clock(self) -> pd.DataFrame:
        """Give how the clocks of loggers went, as in ``logger_clock.csv``; empty where nothing tells."""
        import pandas as pd

        frame = pd.DataFrame(list(clock_rows(self.record.clocks)), columns=list(CLOCK_COLUMNS))
        numbers = {
            name: pd.to_numeric(frame[name])
            for name in ("offset_s", "drift_s_per_day", "p", "offset_to_s", "p_offset")
        }
        return frame.assign(**numbers, **{name: pd.to_datetime(frame[name]) for name in ("from", "to")})

    def calendar(self) -> Living:
        """Draw when each antenna could be trusted."""
        from audit.antennas.shown_antennas import shown_calendar

        return shown_calendar(self.record)

    def hearing(self) -> Living:
        """Draw how well each antenna heard the crossings that the other one heard."""
        from audit.antennas.shown_antennas import shown_hearing

        return shown_hearing(self.record)

    def night(self, box: str = "", night: str = "") -> Living:
        """Draw who went in and out of a box in one night.

        Parameters
        ----------
        box : str, optional
            By default the one with most passages.
        night : str, optional
            The day of the evening, as 2026-05-04; by default the night of that box with most passages.

        Raises
        ------
        audit.refusal.Refusal
            There is no such box, or the night is no day.
        """
        from audit.antennas.shown_night import shown_night

        return shown_night(self.record, box, night)

    def write(self, out: str | Path) -> list[Path]:
        """Write passages, what is known of antennas and, where it is known, of clocks: all files, or none.

        Parameters
        ----------
        out : path
            Folder for the results, made when it is not there.

        Raises
        ------
        audit.refusal.Refusal
            The folder cannot be written to, or a result would replace or join the log.
        """
        return write_passages(self.record, Path(out), inputs=(self.source,))


def passages(
    source: str | Path,
    *,
    schemas: str | Path | Declarations | None = None,
    set_clock: bool = True,
    anchors: Mapping[str, Sequence[tuple[str, int]]] | None = None,
    by_hours: bool = False,
    given: Collection[str] = (),
    young: Mapping[str, Mapping[str, int]] | None = None,
) -> Passed:
    """Find the passages of birds in the log of the antennas of nest boxes.

    Parameters
    ----------
    source : path
        A file of text (.csv, .txt) or Parquet, or a folder of such files. The columns ``box``, ``antenna``,
        ``detected_at`` and ``tag`` are found by their headers or by what stands in them; other forms of files
        are declared in ``loggers.yaml``. The log is read piece by piece: it may be larger than the memory.
    schemas : path or Declarations, optional
        A team's folder of declarations, laid over the shipped ones.
    set_clock : bool
        Moments are those of clocks set right, where marker tags, steps or visits tell how far they were off;
        else they are as logged, and it is only told how far they are off.
    anchors : mapping, optional
        Box -> tags that a person read there with a hand reader, and when, in milliseconds since 1970 of the
        same kind of time as the log.
    by_hours : bool
        These tell only by how many whole hours a clock was off, as where tags were read some minutes before
        the birds were back in the box; they are left out where the files of the log tell their time zone.
    given : collection of str
        Tags that were given out: a rare code among these is never taken for noise.
    young : mapping of str to mapping of str to int, optional
        Box -> tags put on its nestlings, and when, in milliseconds since 1970: these are inside at first,
        which tells whether the antennas of the box are exchanged.

    Returns
    -------
    Passed
        Passages, each with its probability, and the state of each antenna.

    Raises
    ------
    audit.refusal.Refusal
        Nothing can be read there: with file, line and cure.
    """
    declared = declarations_of(schemas)
    source = Path(source)
    if source.name in ("", ".."):
        # the folder that one is in, or the one above it, is called by its own name
        source = source.resolve()
    with open_log(source, declared) as log:
        told = None if by_hours and log.zoned else anchors
        clocks = Clocks(declared, log.engine, log.boxes, log.tags, told, by_hours=by_hours, change=set_clock)
        with Hands(log.hands if log.long else 0) as hands:
            asked = Models(declared, log.tags, clocks, hands, given)
            asked.raised(log.boxes, young or {})
            # one look at all reads; what is told of tags and boxes follows from their nights
            by_night = log.table(relations.presence(log.relation))
            by_tag = heard_of(by_night)
            if log.long:
                asked.heed(log, by_tag)
            sample = log.sample()
            if sample is not None:
                asked.learn(without_repeats(sample))
                del sample
            asked.around(*ends_of(by_tag))
            followed = follow(log.chunks(), asked.ask, log.hands)
        antennas = log.table(relations.of_antennas(log.relation))
        unmet = tuple(unmet_tags(declared.loggers, log.engine, log.tags, log.boxes, clocks.numbers.anchor))
        heard = Heard(**clocks.heard.put_right(by_tag, nightly=False))
        nights = NightsHeard(**clocks.heard.put_right(by_night, nightly=True))
        files = tuple(
            FileTold(
                file.path,
                file.reads,
                file.unread,
                tuple((line.line, line.why, line.text) for line in file.first_unread),
            )
            for file in log.files
        )
    record = PassagesRecord(
        source.stem,
        log.boxes,
        log.tags,
        followed.passages,
        followed.spells,
        heard,
        files,
        repeated=followed.repeated,
        crossings=followed.crossings,
        confidence=float(declared.settings["antennas.paired.confidence"].value),
        zoned=log.zoned,
        exact=log.exact,
        markers=tuple(sorted(asked.markers)),
        told=(
            *_told(log, asked),
            *lone_antennas(log.boxes, **antennas, passages=followed.passages),
            *unmet_sentences(unmet),
            *_of_clocks(log, clocks),
        ),
        noise=tuple(sorted(asked.ghosts)),
        nights=nights,
        clocks=tuple(one for _, each in sorted(clocks.told.items()) for one in each),
    )
    return Passed(record, source)


_GHOSTS_SHOWN = 6


def _told(log: DetectionLog, asked: Models) -> tuple[str, ...]:
    told = []
    if asked.markers:
        tags = ", ".join(log.tags[code] for code in sorted(asked.markers))
        told.append(f"Read as marker tags, and not as birds: {tags}.")
    told += [
        f"{log.boxes[box]}: its antennas are probably exchanged ({swap.p:.2f}), since {swap.sentence} Look "
        "which is which at the next planned visit; directions are given as logged."
        for box, swap in sorted(asked.exchanged.items())
    ]
    told += [
        f"{log.boxes[box]}: {stray.sentence}" for box, each in sorted(asked.strays.items()) for stray in each
    ]
    if asked.ghosts:
        few = sorted(asked.ghosts)[:_GHOSTS_SHOWN]
        tags = ", ".join(log.tags[code] for code in few)
        more = f" and {len(asked.ghosts) - len(few):,} more" if len(asked.ghosts) > len(few) else ""
        told.append(f"Taken for noise, since it was hardly read or is a slip of another tag: {tags}{more}.")
    return tuple(told)


def _of_clocks(log: DetectionLog, clocks: Clocks) -> Iterator[str]:
    doubtful = {log.boxes[box]: holes for box, holes in clocks.doubtful.items()}
    told = [one for _, each in sorted(clocks.told.items()) for one in each]
    unsure = {log.boxes[box]: one for box, one in clocks.rounds.unsure(clocks.limits.least_s).items()}
    p = clocks.rounds.p_round
    yield from clock_sentences(told, doubtful, change=clocks.change, rounds=p, unsure=unsure)
    if clocks.zone_apart:
        yield clocks_beside_sheet(clocks.zone_apart)
