"""The report of a decided season: one page and one print, for people who were not there."""
