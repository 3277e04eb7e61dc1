"""Rows that hang together by a ring or a tag, and every way in which they can have come about."""
