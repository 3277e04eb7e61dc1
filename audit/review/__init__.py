"""Findings looked at and decided: the worklist, the log of decisions, the desk."""
