"""Parts of the question whether birds handled, brood sizes, counts and boxes agree."""
