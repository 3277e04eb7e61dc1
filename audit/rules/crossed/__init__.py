"""Rings or tags of one visit that stand in each other's rows: exchanged, or slid by one row."""
