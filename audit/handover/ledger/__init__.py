"""What became of every ring and tag, as files and pages."""
