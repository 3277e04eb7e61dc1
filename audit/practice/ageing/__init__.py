"""The ageing drill: how old is a nestling by its wing, and is a brood within the days of ringing."""
