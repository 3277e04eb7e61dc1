"""Shared fixtures, and how hypothesis draws its examples."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

from audit.declarations import Declarations, load_declarations

# The gate draws the same examples every time, so that a red run tells of the change it ran on. To look for
# faults that nobody has met yet, let it wander: HYPOTHESIS_PROFILE=wander pytest tests/unit
settings.register_profile("same", derandomize=True, deadline=None, print_blob=True)
settings.register_profile("wander", derandomize=False, deadline=None, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))


@pytest.fixture(scope="session")
def declared() -> Declarations:
    return load_declarations()
