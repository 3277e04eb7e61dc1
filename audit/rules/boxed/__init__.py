"""Boxes of a season: labels that are none, boxes not in place, birds of another box."""
