"""Pictures: one function answers one question."""
