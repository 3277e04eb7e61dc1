"""Run a notebook as a person would, without a browser, in a folder of its own."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import nbformat
import pytest
from nbclient import NotebookClient

if TYPE_CHECKING:
    from nbformat import NotebookNode

NOTEBOOKS = Path(__file__).parent.parent / "notebooks"
_OWN = ("IPYTHONDIR", "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR")


def execute(name: str, tmp_path_factory: pytest.TempPathFactory) -> tuple[NotebookNode, Path]:
    """Run all cells; an error in a cell is raised here. Returns the notebook and the folder it lies in."""
    folder = tmp_path_factory.mktemp("lab") / "notebooks"
    shutil.copytree(NOTEBOOKS, folder, ignore=shutil.ignore_patterns(".*", "checked", "*.mapping.yaml"))
    notebook = nbformat.read(folder / name, as_version=4)
    with pytest.MonkeyPatch.context() as patch:
        # nothing of a person's own set-up, and no trace left in it
        for variable in _OWN:
            patch.setenv(variable, str(tmp_path_factory.mktemp(variable.lower())))
        patch.setenv("JUPYTER_PLATFORM_DIRS", "1")
        client = NotebookClient(notebook, timeout=120, resources={"metadata": {"path": str(folder)}})
        client.execute()
    return notebook, folder
