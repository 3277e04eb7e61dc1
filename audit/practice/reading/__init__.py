"""Reading drill: numbers drawn as they look on a ring and on a reader's display, and what is typed."""
