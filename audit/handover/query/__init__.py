"""The query sheet: what must be looked up in the field notebook, written out and read back."""
