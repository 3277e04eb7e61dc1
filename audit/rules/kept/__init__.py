"""Answers of an audit kept for the next one: a rule that would see the same is not asked again."""
