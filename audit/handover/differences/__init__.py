"""Two typings of one sheet compared, as files and pages."""
