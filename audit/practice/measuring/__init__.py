"""Repeated measures of the same birds: how well they agree, and what to practise."""
