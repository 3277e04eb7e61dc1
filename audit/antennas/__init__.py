"""Large logs kept outside the memory: read once, coded, and handed on box by box."""
