"""The decided season for everybody: a Darwin Core Archive of events, occurrences and measurements."""
