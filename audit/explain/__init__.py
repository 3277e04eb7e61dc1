"""Which slip accounts for the evidence: competing accounts of each neighbourhood of cells, weighed."""

from __future__ import annotations

from audit.explain.explaining import explain

__all__ = ["explain"]
