"""Series of rings: the forms that their numbers have, numbers of no such form, rows without a number."""
