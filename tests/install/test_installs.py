"""The declarations are found from a checkout, an editable install and a built wheel. All offline."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tomllib
import zipfile
from importlib import metadata
from pathlib import Path

import pytest

from audit.declarations import locate
from audit.refusal import DeclarationRefusal

ROOT = Path(__file__).parents[2]

#: Folders beside the package -> where they lie in a wheel.
INCLUDED = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"][
    "targets"
]["wheel"]["force-include"]

PROGRAM = """
import json, audit
from audit.declarations import load_declarations
from audit.declarations.locate import schemas_folder
declared = load_declarations()
print(json.dumps({
    "package": audit.__file__, "schemas": str(schemas_folder()),
    "tables": sorted(declared.tables), "rules": sorted(declared.rules), "species": sorted(declared.species),
}))
"""


def ask(folder, *options, **environment):
    """Run the program in a folder of its own and return what it found."""
    env = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    done = subprocess.run(
        [sys.executable, *options, "-c", PROGRAM],
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
        env=env | environment,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def checkout(tmp_path_factory):
    """What is under version control and needed to build, without anything left over from earlier builds."""
    folder = tmp_path_factory.mktemp("checkout")
    for name in ("audit", *INCLUDED):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(ROOT / name, folder)
    return folder


@pytest.fixture(scope="module")
def wheel(checkout, tmp_path_factory):
    out = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(checkout)],
        check=True,
        capture_output=True,
        timeout=120,
    )
    (built,) = out.glob("*.whl")
    return built


def test_a_checkout_has_them_beside_the_package(checkout, tmp_path):
    found = ask(tmp_path, PYTHONPATH=str(checkout))
    assert found["package"] == str(checkout / "audit" / "__init__.py")
    assert found["schemas"] == str(checkout / "schemas")


def test_an_editable_install_has_them_in_the_checkout(tmp_path):
    # the suite itself runs from an editable install
    assert json.loads(metadata.distribution("nestproof").read_text("direct_url.json"))["dir_info"]["editable"]
    found = ask(tmp_path)
    assert found["package"] == str(ROOT / "audit" / "__init__.py")
    assert found["schemas"] == str(ROOT / "schemas")


def test_a_wheel_has_them_inside_the_package(wheel, tmp_path):
    target = tmp_path / "target"
    subprocess.run(
        [
            sys.executable,
            "-m",
            "pip",
            "install",
            "-q",
            "--no-deps",
            "--no-index",
            "--target",
            str(target),
            str(wheel),
        ],
        check=True,
        capture_output=True,
        timeout=60,
    )
    here = tmp_path / "elsewhere"
    here.mkdir()
    found = ask(here, PYTHONPATH=str(target))
    assert found["package"] == str(target / "audit" / "__init__.py")
    assert found["schemas"] == str(target / "audit" / "schemas")
    assert found | {"package": "", "schemas": ""} == ask(here) | {"package": "", "schemas": ""}


def test_a_wheel_holds_every_declaration_and_nothing_else(wheel):
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    assert INCLUDED["schemas"] == "audit/schemas"
    for folder, place in INCLUDED.items():
        files = [path.relative_to(ROOT / folder) for path in (ROOT / folder).rglob("*") if path.is_file()]
        assert {f"{place}/{path.as_posix()}" for path in files} <= names
    assert {"audit/py.typed", "audit/review/grid.js", "audit/review/grid.css"} <= names
    outside = {name for name in names if not name.startswith(("audit/", "nestproof-"))}
    assert outside == set()
    assert not [name for name in names if name.endswith((".ipynb", ".pyc")) or "/test_" in name]


def test_the_command_is_installed_with_the_wheel(wheel):
    with zipfile.ZipFile(wheel) as archive:
        (entry,) = [name for name in archive.namelist() if name.endswith("entry_points.txt")]
        assert "nestproof = audit.__main__:run" in archive.read(entry).decode()


def test_an_install_without_them_says_so(checkout, tmp_path, monkeypatch):
    shutil.copytree(checkout / "audit", tmp_path / "audit")
    monkeypatch.setattr(locate, "__file__", str(tmp_path / "audit" / "declarations" / "locate.py"))
    with pytest.raises(DeclarationRefusal) as caught:
        locate.schemas_folder()
    assert caught.value.what == "The folder of declarations is missing."
    assert caught.value.where == f"{tmp_path / 'audit' / 'schemas'} or {tmp_path / 'schemas'}"
    assert caught.value.cure == "Install nestproof again."
