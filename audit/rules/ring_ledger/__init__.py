"""What became of every ring that was issued: the ledger of a season. Evidence, no findings."""
