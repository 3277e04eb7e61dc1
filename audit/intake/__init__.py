"""A file as typed becomes a season."""

from audit.intake.mapping import HeaderMapping, HeaderMatch
from audit.intake.reading import propose_mapping, read

__all__ = ["HeaderMapping", "HeaderMatch", "propose_mapping", "read"]
