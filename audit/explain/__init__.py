"""Which slip accounts for the evidence: competing accounts of each neighbourhood of cells, weighed."""
