"""The workbook file itself: its parts, cells, formulas, notes and styles."""
