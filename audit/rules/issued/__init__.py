"""Strings of rings as issued: their ends, what overlaps, what was lost of them."""
