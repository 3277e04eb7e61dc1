"""A process beside this one that draws, so that pictures are drawn while the rest of a page is written.

To start the drawing program takes as long as to audit a season, and this process would stand still meanwhile.
"""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from importlib.util import find_spec
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

__all__ = ["begin_drawing", "drawing_beside"]

#: What the other process runs: a line is one picture, asked for or drawn; an empty answer is none.
_DRAWS = """
import json, sys
sys.path.insert(0, sys.argv[1])
import vl_convert
for line in sys.stdin.buffer:
    spec, version = json.loads(line)
    try:
        drawn = vl_convert.vegalite_to_svg(spec, vl_version=version)
    except Exception:
        drawn = ""
    sys.stdout.buffer.write(json.dumps(drawn).encode() + b"\\n")
    sys.stdout.buffer.flush()
"""
#: Drawn at once, so that the program has started when it is needed.
_NOTHING: Mapping[str, Any] = {"data": {"values": []}, "mark": "point"}

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
        talking.submit(_asked, process, dict(_NOTHING), None)
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
    found = find_spec("vl_convert")
    if not sys.executable or found is None or found.origin is None:
        return None
    folder = str(Path(found.origin).parent.parent)
    try:
        return subprocess.Popen(  # noqa: S603 - this interpreter, with the text above
            [sys.executable, "-I", "-S", "-c", _DRAWS, folder],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
    except OSError:
        return None


def begin_drawing(spec: dict[str, Any], version: str) -> Callable[[], str]:
    """Begin to draw a chart; what is returned gives the SVG text, and waits for it where it must.

    Parameters
    ----------
    spec : dict
        A chart as Vega-Lite has it.
    version : str
        Version of Vega-Lite, such as ``"6.1"``.
    """
    if not _running:
        return lambda: _drawn_here(spec, version)
    process, talking = _running[-1]
    answer = talking.submit(_asked, process, spec, version)
    return lambda: answer.result() or _drawn_here(spec, version)


def _asked(process: subprocess.Popen[bytes], spec: dict[str, Any], version: str | None) -> str:
    """Ask the other process; an empty text where it has nothing to say."""
    try:
        asks = _open(process.stdin)
        asks.write(json.dumps([spec, version]).encode() + b"\n")
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
