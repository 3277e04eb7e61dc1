"""The season with all that was decided: lists of changes, the clean workbook, tidy tables."""
