"""The season as records of the exchange code, for the ringing scheme."""
