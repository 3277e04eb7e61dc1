"""Nothing asks the network, and nothing heavy is imported before it is used. Each in a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]

#: Put in front of every program: any attempt to reach another machine is noted and refused.
WATCH = """
import json, socket, sys

tried = []

def refuse(name):
    def attempt(*args, **kwargs):
        tried.append(f"{name} {args[-1] if args else ''}")
        raise OSError(f"no network here: {name}")
    return attempt

for name in ("connect", "connect_ex", "sendto"):
    setattr(socket.socket, name, refuse(name))
for name in ("getaddrinfo", "gethostbyname", "gethostbyaddr", "create_connection"):
    setattr(socket, name, refuse(name))
"""

SEASON = """
import pandas as pd
frames = {
    "handlings": pd.DataFrame({
        "date": ["2026-06-01", "2026-06-01"], "box": ["SL-01", "SL-02"], "ring": ["SV01001", "SV01002"],
        "sex": ["M", "x"], "gross_g": ["395", "-3"],
    }),
    "boxes": pd.DataFrame({"box": ["SL-01", "SL-02"], "latitude": ["52.1", "520"]}),
}
"""


def run(program, *, folder=TESTS, **environment):
    """Run a program in a fresh interpreter and return what it printed as JSON in its last line."""
    text = WATCH + textwrap.dedent(program)
    env = {key: value for key, value in os.environ.items() if not key.startswith(("GX_", "PANDERA_"))}
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", text],
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
        env=env | {"PYTHONPATH": str(TESTS)} | environment,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1]), done


def test_the_watch_sees_an_attempt():
    tried, _ = run(
        """
        import urllib.request
        try:
            urllib.request.urlopen("https://nest.example/")
        except OSError:
            pass
        print(json.dumps(tried))
        """
    )
    assert len(tried) == 1


def test_both_engines_run_without_network_noise_or_files(tmp_path):
    program = """
        import os
        from typed_season import typed_season
        from audit.declarations import load_declarations, to_gx, to_pandera
        declared = load_declarations()
        season = typed_season(
            declared, handlings=[{"date": "2026-06-01", "box": "SL-01", "ring": "SV1", "sex": "x"}]
        )
        frame, table = season.frame("handlings"), declared.tables["handlings"]
        for name in declared.tables:
            to_pandera.compile_table(declared.tables[name])
            to_gx.compile_table(declared.tables[name])
        ours, theirs = to_pandera.blame(table, frame), to_gx.blame(table, frame)
        print(json.dumps({
            "tried": tried, "same": ours == theirs, "blamed": [b.field for b in ours],
            "files": os.listdir("."), "telemetry": [m for m in sys.modules if "posthog" in m],
        }))
        """
    said, done = run(program, folder=tmp_path, HOME=str(tmp_path))
    assert said == {"tried": [], "same": True, "blamed": ["sex"], "files": [], "telemetry": []}
    # no progress bars, no greetings
    assert done.stderr == ""
    assert len(done.stdout.splitlines()) == 1


def test_an_audit_needs_one_engine_and_no_network():
    said, _ = run(
        SEASON
        + """
import audit
report = audit.check(frames)
heavy = ("great_expectations", "altair", "ipywidgets", "IPython", "vl_convert", "openpyxl", "jsonschema")
print(json.dumps({
    "tried": tried, "heavy": [name for name in heavy if name in sys.modules],
    "pandera": "pandera" in sys.modules, "rules": [f.rule for f in report.findings],
}))
"""
    )
    assert said["tried"] == []
    assert said["heavy"] == []
    assert said["pandera"]
    assert {"declared.set", "declared.range"} <= set(said["rules"])


def test_practice_needs_no_network(tmp_path):
    said, _ = run(
        """
        import audit
        practice = audit.practise("AB", level=2, progress="practice.progress.jsonl")
        written = practice.write("practice")
        marked = practice.mark({(1, "net"): "?"})
        marked.write("practice")
        practice.next().overview().write("practice")
        print(json.dumps({"tried": tried, "files": len(written)}))
        """,
        folder=tmp_path,
        HOME=str(tmp_path),
    )
    assert said == {"tried": [], "files": 5}


def test_the_package_itself_is_light():
    said, _ = run(
        """
        import audit
        heavy = ("pandas", "numpy", "pandera", "altair", "yaml", "scipy", "openpyxl", "lxml", "ipywidgets")
        print(json.dumps([name for name in heavy if name in sys.modules]))
        """
    )
    assert said == []


def test_the_declarations_load_without_a_slow_library():
    said, _ = run(
        """
        from audit.declarations import load_declarations
        load_declarations()
        heavy = ("jsonschema", "pandera", "altair", "great_expectations", "pandas", "scipy")
        print(json.dumps([name for name in heavy if name in sys.modules]))
        """
    )
    assert said == []


@pytest.mark.parametrize("verb", ["quiet_context()", "compile_table(load_declarations().tables['boxes'])"])
def test_without_the_second_engine_the_cure_is_said(verb):
    said, _ = run(
        f"""
        sys.modules["great_expectations"] = None  # as if it were not installed
        from audit.declarations import load_declarations, to_gx
        from audit.refusal import Refusal
        try:
            to_gx.{verb}
        except Refusal as refusal:
            print(json.dumps([refusal.what, refusal.where, refusal.cure]))
        """
    )
    assert said == [
        "The second engine, great-expectations, is not installed.",
        "the gate",
        "Install it with: pip install 'nestproof[gate]'",
    ]


def test_the_engine_of_the_audit_loads_no_spark(tmp_path):
    # as if it were installed; the real one takes half a second to load and warns
    for part in ("", "pandas"):
        (tmp_path / "pyspark" / part).mkdir()
        (tmp_path / "pyspark" / part / "__init__.py").write_text("print('loaded')\n", encoding="utf-8")
    said, done = run(
        SEASON
        + """
import audit
report = audit.check(frames)
print(json.dumps({"pandera": "pandera" in sys.modules, "spark": "pyspark" in sys.modules}))
""",
        PYTHONPATH=str(tmp_path),
    )
    assert said == {"pandera": True, "spark": False}
    assert "loaded" not in done.stdout
