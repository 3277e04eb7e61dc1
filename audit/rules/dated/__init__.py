"""Dates of a season: what is known of days, which dates do not fit, what is said of them."""
