"""A file as typed becomes a season."""

from audit.intake.reading import read

__all__ = ["read"]
