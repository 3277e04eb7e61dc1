"""Practice sheets: an invented page with slips in it, what a trainee marks, and what that is worth."""
