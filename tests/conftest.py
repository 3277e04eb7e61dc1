"""Shared fixtures, and how hypothesis draws its examples."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

from audit.declarations import Declarations, load_declarations

# The gate draws the same examples every time, so that a red run tells of the change it ran on. To look for
# faults that nobody has met yet, let it wander: HYPOTHESIS_PROFILE=wander pytest tests/unit
# Since the same examples come again each time, many of them are worth less than few that are far apart.
settings.register_profile("same", derandomize=True, deadline=None, print_blob=True, max_examples=40)
settings.register_profile("wander", derandomize=False, deadline=None, print_blob=True, max_examples=200)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))


@pytest.fixture(scope="session")
def declared() -> Declarations:
    return load_declarations()
