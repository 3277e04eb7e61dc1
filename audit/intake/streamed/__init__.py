"""A sheet as it is streamed from a workbook."""
