"""Shared fixtures."""

from __future__ import annotations

import pytest

from audit.declarations import Declarations, load_declarations


@pytest.fixture(scope="session")
def declared() -> Declarations:
    return load_declarations()
