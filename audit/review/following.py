"""The audit follows the decisions, beside the person's work."""

from __future__ import annotations

import asyncio
import threading
import time
from functools import partial
from queue import SimpleQueue
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from audit.checked import Checked
    from audit.review.deciding import Deciding, Place

__all__ = ["Following"]

#: Seconds between two looks at what the other thread has done.
_LOOK_AGAIN = 0.02


class Following:
    """Audits again what was decided, in a thread of its own; what is decided meanwhile is audited after it.

    Everything is told where the notebook runs, so that no widget is changed from another thread.

    Parameters
    ----------
    deciding : Deciding
    on_progress : callable
        Is told what is asked, how many questions are answered, and of how many.
    on_done : callable
        Is called once the audit has taken in some decisions.
    on_fault : callable
        Is told of a fault of the program; the decisions are in the log.
    """

    def __init__(
        self,
        deciding: Deciding,
        on_progress: Callable[[str, int, int], None],
        on_done: Callable[[], None],
        on_fault: Callable[[str], None],
    ) -> None:
        self._deciding = deciding
        self._on_progress, self._on_done, self._on_fault = on_progress, on_done, on_fault
        self._told: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._idle = threading.Event()
        self._idle.set()
        try:
            self._loop: asyncio.AbstractEventLoop | None = asyncio.get_running_loop()
        except RuntimeError:
            self._loop = None

    @property
    def is_idle(self) -> bool:
        """Whether nothing is being audited."""
        return self._idle.is_set()

    def go_on(self) -> None:
        """Audit what was decided, if that is not being done and anything was."""
        if self._idle.is_set() and self._deciding.behind:
            self._idle.clear()
            threading.Thread(target=self._audit, daemon=True).start()

    def wait(self, seconds: float) -> bool:
        """Wait until the audit has caught up, and say whether it has; in a cell of a notebook, too."""
        end = time.monotonic() + seconds
        while not self._idle.is_set() and time.monotonic() < end:
            self._idle.wait(_LOOK_AGAIN)
            self._drain()
        return self._idle.is_set()

    def soon(self, work: Callable[[], None]) -> None:
        """Do something once the notebook has shown what there is by now; at once where no notebook runs."""
        if self._loop is None:
            work()
        else:
            self._loop.call_soon(work)

    def beside(self, work: Callable[[], object], then: Callable[[], None]) -> None:
        """Do other work in a thread of its own, then something where the notebook runs, if one does."""

        def do() -> None:
            work()
            self._tell(then)

        if self._loop is None:
            do()
        else:
            threading.Thread(target=do, daemon=True).start()

    def _audit(self) -> None:
        try:
            audited = self._deciding.audited_again(self._progressed)
        except Exception as fault:  # noqa: BLE001 - the person is told of it, and goes on deciding
            self._tell(partial(self._failed, f"{type(fault).__name__}: {fault}"))
            return
        self._tell(partial(self._done, *audited))

    def _progressed(self, asked: str, done: int, of: int) -> None:
        self._tell(partial(self._on_progress, asked, done, of))

    def _done(self, checked: Checked, edits: Mapping[Place, str]) -> None:
        self._deciding.overtake(checked, edits)
        if not self._deciding.behind:
            self._idle.set()
            self._on_done()
            return
        self._on_done()
        threading.Thread(target=self._audit, daemon=True).start()

    def _failed(self, fault: str) -> None:
        self._idle.set()
        self._on_fault(fault)

    def _tell(self, work: Callable[[], None]) -> None:
        if self._loop is not None and self._loop.is_running():
            self._told.put(work)
            self._loop.call_soon_threadsafe(self._drain)
        else:
            work()

    def _drain(self) -> None:
        """Do what the other thread wants done here."""
        while not self._told.empty():
            self._told.get()()
