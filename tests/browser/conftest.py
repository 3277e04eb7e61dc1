"""JupyterLab in headless Chromium, cut off from every address but its own."""

from __future__ import annotations

import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import nbformat
import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from nbformat import NotebookNode
    from playwright.sync_api import BrowserContext, Page, Request, WebSocket

ROOT = Path(__file__).resolve().parent.parent.parent

CHROMIUM_FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # no name but our own leads anywhere; to hold up each request here instead would cost all caches
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
]

LAB_SETTINGS = {
    "@jupyterlab/apputils-extension/notification.jupyterlab-settings": (
        '{"fetchNews": "false", "checkForUpdates": false}'
    ),
    # cells out of view are not rendered otherwise
    "@jupyterlab/notebook-extension/tracker.jupyterlab-settings": '{"windowingMode": "none"}',
}


#: Seconds to wait for anything: a busy machine is slow, not wrong.
PATIENCE = 120
VIEWPORT = {"width": 1400, "height": 1000}

#: Grammars of web addresses, which jsonschema builds where it is told of them: two seconds for each kernel.
KERNEL_START = "import sys; sys.modules.setdefault('rfc3987_syntax', None)\n"


@dataclass
class Lab:
    """A running JupyterLab and the folder that it serves."""

    address: str
    token: str
    folder: Path


@dataclass
class Sheet:
    """One notebook opened in the browser, and the folder that it lies in."""

    page: Page
    path: Path
    strangers: list[str] = field(default_factory=list)

    @property
    def folder(self) -> Path:
        return self.path.parent

    def run_all(self, last_text: str, seconds: float = 2 * PATIENCE) -> None:
        """Run all cells and wait for a text that only the last one prints."""
        self.page.wait_for_function(
            "() => window.jupyterapp && window.jupyterapp.shell.currentWidget"
            " && window.jupyterapp.shell.currentWidget.sessionContext"
            " && window.jupyterapp.shell.currentWidget.sessionContext.isReady"
            " && window.jupyterapp.shell.currentWidget.sessionContext.session"
            " && window.jupyterapp.shell.currentWidget.sessionContext.session.kernel"
            " && window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.status === 'idle'",
            timeout=seconds * 1000,
        )
        self.page.evaluate("() => { window.jupyterapp.commands.execute('notebook:run-all-cells'); }")
        # an error in a cell ends the run, and is told at once
        found = self.page.wait_for_function(
            """wanted => {
                const outputs = [...document.querySelectorAll('.jp-OutputArea-output')];
                const error = document.querySelector('[data-mime-type="application/vnd.jupyter.stderr"]');
                return error?.innerText || (outputs.some(out => out.innerText.includes(wanted)) && 'done');
            }""",
            arg=last_text,
            timeout=seconds * 1000,
        ).json_value()
        assert found == "done"

    def saved(self) -> NotebookNode:
        """Save the notebook as the browser shows it now, and read what was saved."""
        self.page.evaluate("async () => { await window.jupyterapp.commands.execute('docmanager:save'); }")
        return nbformat.read(self.path, as_version=4)

    def from_elsewhere(self, notebook: NotebookNode) -> str:
        """Write a saved notebook beside this one, as one that came by mail: never run, so not trusted."""
        notebook = nbformat.from_dict(notebook)
        notebook.metadata.pop("widgets", None)
        notebook.metadata["title"] = "from elsewhere"
        name = f"{self.path.stem}_from_elsewhere.ipynb"
        nbformat.write(notebook, self.folder / name)
        return name


@pytest.fixture(scope="session")
def lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lab]:
    home = tmp_path_factory.mktemp("jupyter-home")
    folder = tmp_path_factory.mktemp("work")
    startup = home / "ipython" / "profile_default" / "startup"
    startup.mkdir(parents=True)
    (startup / "light.py").write_text(KERNEL_START)
    settings = home / "settings"
    for name, text in LAB_SETTINGS.items():
        place = settings / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    token = secrets.token_hex(16)
    environment = os.environ | {
        "HOME": str(home),
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "JUPYTERLAB_SETTINGS_DIR": str(settings),
        "JUPYTERLAB_WORKSPACES_DIR": str(home / "workspaces"),
        "IPYTHONDIR": str(home / "ipython"),
    }
    with (home / "lab.log").open("w") as log:
        server = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "jupyterlab",
                "--no-browser",
                "--allow-root",
                "--ip=127.0.0.1",
                f"--port={port}",
                "--ServerApp.port_retries=0",
                f"--IdentityProvider.token={token}",
                f"--ServerApp.root_dir={folder}",
                "--LabApp.expose_app_in_browser=True",
                "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
            ],
            env=environment,
            stdout=log,
            stderr=subprocess.STDOUT,
            start_new_session=True,
        )
        address = f"http://127.0.0.1:{port}"
        try:
            _wait(server, f"{address}/api?token={token}", home / "lab.log")
            yield Lab(address, token, folder)
        finally:
            _stop(server)


def _stop(server: subprocess.Popen[bytes]) -> None:
    """Let the server end its kernels; one that waits for a kernel without end is ended with them."""
    server.terminate()
    try:
        server.wait(timeout=20)
    except subprocess.TimeoutExpired:
        os.killpg(server.pid, signal.SIGKILL)
        server.wait()


def _wait(server: subprocess.Popen[bytes], address: str, log: Path) -> None:
    deadline = time.monotonic() + 2 * PATIENCE
    while time.monotonic() < deadline:
        if server.poll() is not None:
            raise RuntimeError(f"JupyterLab stopped:\n{log.read_text()}")
        try:
            with urllib.request.urlopen(address, timeout=5):  # noqa: S310 - our own loopback address
                return
        except (urllib.error.URLError, OSError):
            time.sleep(0.3)
    raise RuntimeError(f"JupyterLab did not answer:\n{log.read_text()}")


@pytest.fixture(scope="session")
def chromium() -> Iterator[BrowserContext]:
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=1000 * PATIENCE)
    executable = shutil.which("chromium")
    assert executable, "These tests need Chromium: apt-get install chromium"
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=executable, args=CHROMIUM_FLAGS)
        # one for all, so that JupyterLab is fetched once
        context = browser.new_context(viewport=VIEWPORT)
        context.set_default_timeout(1000 * PATIENCE)
        yield context
        browser.close()


@pytest.fixture(scope="module")
def folder(lab: Lab, request: pytest.FixtureRequest) -> Path:
    """The notebooks as they are committed, for the tests of one file."""
    made = lab.folder / Path(request.node.name).stem
    shutil.copytree(ROOT / "notebooks", made)
    return made


@pytest.fixture(scope="module")
def open_notebook(lab: Lab, chromium: BrowserContext, folder: Path) -> Iterator[object]:
    sheets: list[Sheet] = []

    def opened(name: str) -> Sheet:
        sheet = Sheet(chromium.new_page(), folder / name)
        sheets.append(sheet)

        own = (lab.address, lab.address.replace("http", "ws"), "data:", "blob:")

        def look_at(asked: Request | WebSocket) -> None:
            if not asked.url.startswith(own):
                sheet.strangers.append(asked.url)

        sheet.page.on("request", look_at)
        sheet.page.on("websocket", look_at)
        sheet.page.goto(f"{lab.address}/lab/tree/{folder.name}/{name}?token={lab.token}&reset")
        return sheet

    yield opened
    for sheet in sheets:
        sheet.page.close()
