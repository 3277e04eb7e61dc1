"""Which slip accounts for the evidence: competing accounts of each neighbourhood of cells, and their probability."""

from __future__ import annotations

from audit.explain.explaining import explain

__all__ = ["explain"]
