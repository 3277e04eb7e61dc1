"""Mathematics on arrays and codes: no columns, no findings, no pandas."""
