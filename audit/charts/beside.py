"""A process beside this one that draws, so that pictures are drawn while the rest of a page is written.

To start the drawing program takes as long as to audit a season, and this process would stand still meanwhile.
"""

from __future__ import annotations

import contextlib
import json
import re
from concurrent.futures import ThreadPoolExecutor
from importlib.util import find_spec
from typing import IO, TYPE_CHECKING, Any

from audit.intake.program_beside import start_beside

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Callable, Iterator

    from audit.charts.outline import Outline

__all__ = ["begin_drawing", "begin_outline", "drawing_beside"]

#: What the other process runs.
_DRAWS = """
from audit.charts.drawing import answer_all
answer_all(sys.stdin.buffer, sys.stdout.buffer)
"""

#: Identities inside a picture and what points to them. The drawing program counts on from picture to picture.
_IDENTITY = re.compile(r'(?<=\bid=")([A-Za-z_]+)[0-9]+(?=")|(?<=url\(#)([A-Za-z_]+)[0-9]+(?=\))')

#: The running process and the thread that talks to it, while there is one.
_running: list[tuple[subprocess.Popen[bytes], ThreadPoolExecutor]] = []


@contextlib.contextmanager
def drawing_beside() -> Iterator[None]:
    """Have pictures drawn by a process of its own for as long as this lasts.

    Where none can be started, or it ends, this process draws.
    """
    process = _started()
    if process is None:
        yield
        return
    talking = ThreadPoolExecutor(1)
    _running.append((process, talking))
    try:
        yield
    finally:
        _running.remove((process, talking))
        process.kill()
        process.wait()
        talking.shutdown()
        for pipe in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):
                _open(pipe).close()


def _started() -> subprocess.Popen[bytes] | None:
    return None if find_spec("vl_convert") is None else start_beside(_DRAWS, asked=True)


def begin_drawing(spec: dict[str, Any], version: str) -> Callable[[], str]:
    """Begin to draw a chart; what is returned gives the SVG text, and waits for it where it must.

    Parameters
    ----------
    spec : dict
        A chart as Vega-Lite has it.
    version : str
        Version of Vega-Lite, such as ``"6.1"``.
    """
    return _begun({"specification": spec, "version": version}, lambda: _drawn_here(spec, version))


def begin_outline(outline: Outline) -> Callable[[], str]:
    """Begin to draw an outlined chart, as `begin_drawing` does, without a drawing library in this process."""
    return _begun(outline.as_values(), lambda: _outline_here(outline))


def _begun(asks: dict[str, Any], here: Callable[[], str]) -> Callable[[], str]:
    if not _running:
        return lambda: _counted_anew(here())
    process, talking = _running[-1]
    answer = talking.submit(_asked, process, asks)
    return lambda: _counted_anew(answer.result() or here())


def _counted_anew(svg: str) -> str:
    """Count the identities inside a picture from nought: the same chart is the same text each time."""
    counted: dict[str, str] = {}

    def anew(identity: re.Match[str]) -> str:
        return counted.setdefault(identity[0], f"{identity[1] or identity[2]}{len(counted)}")

    return _IDENTITY.sub(anew, svg)


def _asked(process: subprocess.Popen[bytes], what: dict[str, Any]) -> str:
    """Ask the other process; an empty text where it has nothing to say."""
    try:
        asks = _open(process.stdin)
        asks.write(json.dumps(what).encode() + b"\n")
        asks.flush()
        return str(json.loads(_open(process.stdout).readline() or b'""'))
    except (OSError, ValueError):
        return ""


def _open(pipe: IO[bytes] | None) -> IO[bytes]:
    if pipe is None:
        raise ValueError("the other process was started without pipes")
    return pipe


def _drawn_here(spec: dict[str, Any], version: str) -> str:
    import vl_convert

    return str(vl_convert.vegalite_to_svg(spec, vl_version=version))


def _outline_here(outline: Outline) -> str:
    from audit.charts.drawing import draw_outline

    return draw_outline(outline)
