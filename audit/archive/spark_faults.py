"""What goes wrong on a Spark cluster, in one sentence; and workers that are gone are not waited for."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from threading import Event, Thread
from typing import TYPE_CHECKING, Self

from audit.refusal import Refusal

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["Watch", "spark_errors", "stopped"]

_CURE = (
    "Look at the pages of its master and workers; they must see the files of the archive under the same "
    "names. Or leave out --master."
)
_AGAIN = (
    "Start it again, where more memory or fewer other programs keep the workers alive; or leave out --master."
)
#: What Spark says, what it means, and what to do.
_MEANINGS = (
    (
        r"Checkpoint block|ExecutorLostFailure|Lost executor|MetadataFetchFailed|FetchFailed",
        "A worker of Spark was lost, and with it what it kept.",
        _AGAIN,
    ),
    (
        r"masters are unresponsive|Application has been killed|stopped SparkContext|SparkContext was shut",
        "What answers at this address does not take the work, or took its workers away.",
        "See that it is the address of a Spark master, of the same version. Or leave out --master.",
    ),
    (
        r"PATH_NOT_FOUND|FILE_NOT_EXIST|FileNotFoundException",
        "A worker of Spark does not find a file of the archive.",
        "Put the archive, and the folder of the results, where all workers see them under the same names.",
    ),
    (r"OutOfMemoryError|exceeding memory limits", "A worker of Spark has not enough memory.", _AGAIN),
    (r"No space left on device", "A worker of Spark has no room left on its disk.", _AGAIN),
)
#: A line that says nothing but where it went wrong.
_WHERE = re.compile(r"An error occurred while calling|\s*at |JVM stacktrace")
_CLASS = re.compile(r"^:?\s*(?:Caused by: )?(?:[a-z]\w*\.)+[A-Z]\w*(?:: )?")


def spark_errors() -> tuple[type[Exception], ...]:
    """List what Spark raises.

    Raises
    ------
    Refusal
        It is not installed.
    """
    try:
        from py4j.protocol import Py4JError
        from pyspark.errors import PySparkException
    except ModuleNotFoundError as fault:
        raise Refusal(
            "PySpark, which speaks to a Spark cluster, is not installed.",
            where="nestproof archive --master",
            cure="Install it with: pip install 'nestproof[spark]', or leave out --master: one machine is "
            "enough for tens of millions of handlings.",
        ) from fault
    # a connection that breaks is that to the program that speaks for Spark here
    return (PySparkException, Py4JError, ConnectionError)


def stopped(fault: Exception, master: str, *, deserted: bool = False) -> Refusal:
    """Say why Spark stopped.

    Parameters
    ----------
    fault : Exception
        As it was raised.
    master : str
    deserted : bool
        The work was given up since no worker was left.
    """
    where, said = f"--master {master}", str(fault)
    if deserted:
        return Refusal("All workers of Spark are gone.", where=where, cure=_AGAIN)
    for pattern, what, cure in _MEANINGS:
        if re.search(pattern, said):
            return Refusal(what, where=where, cure=cure)
    lines = (_CLASS.sub("", line).strip() for line in said.splitlines() if not _WHERE.match(line))
    first = next(filter(None, lines), type(fault).__name__)
    return Refusal(f"Spark stopped: {first}", where=where, cure=_CURE)


@dataclass(slots=True)
class Watch:
    """Gives work up when no worker was left for a while: Spark itself would wait for ever.

    Attributes
    ----------
    workers : callable
        Counts the workers; may fail once Spark is gone.
    give_up : callable
        Stops all work.
    within : float
        Seconds without a worker.
    every : float
        Seconds between two looks.
    deserted : bool
        Whether work was given up.
    """

    workers: Callable[[], int]
    give_up: Callable[[], None]
    within: float
    every: float = 1.0
    deserted: bool = False
    _over: Event = field(default_factory=Event)
    _thread: Thread | None = None

    def __enter__(self) -> Self:
        """Begin to look."""
        self._thread = Thread(target=self._look, daemon=True)
        self._thread.start()
        return self

    def __exit__(self, *fault: object) -> None:
        """Look no more."""
        self._over.set()
        if self._thread is not None:
            self._thread.join()

    def _look(self) -> None:
        alone = 0.0
        while not self._over.wait(self.every):
            try:
                alone = 0.0 if self.workers() else alone + self.every
                self.deserted = alone >= self.within
                if self.deserted:
                    self.give_up()
            except Exception:  # noqa: BLE001 - Spark is gone, and whoever asks it is told
                return
