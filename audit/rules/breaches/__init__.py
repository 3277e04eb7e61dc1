"""Cells that do not keep to what is declared of their column, and what was probably meant."""
