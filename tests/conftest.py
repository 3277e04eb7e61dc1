"""Shared fixtures, how hypothesis draws its examples, and what makes all tests faster."""

from __future__ import annotations

import gc
import os
import sys
from pathlib import Path

import pytest
from hypothesis import settings

from audit.declarations import Declarations, load_declarations

# The gate draws the same examples every time, so that a red run tells of the change it ran on. To look for
# faults that nobody has met yet, let it wander: HYPOTHESIS_PROFILE=wander pytest tests/unit
# Since the same examples come again each time, many of them are worth less than few that are far apart.
settings.register_profile("same", derandomize=True, deadline=None, print_blob=True, max_examples=40)
settings.register_profile("wander", derandomize=False, deadline=None, print_blob=True, max_examples=200)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))

# Grammars of web addresses, which jsonschema builds where it is told of them: two seconds for each process.
sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]  # none: not to be imported


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Load what drives a browser only where it is asked for."""
    driven = collection_path == Path(__file__).with_name("browser")
    return True if driven and config.getoption("markexpr") == "not browser" else None


def pytest_collection_finish() -> None:
    """Let the collector pass over modules and tests, which stay to the end."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def declared() -> Declarations:
    return load_declarations()
