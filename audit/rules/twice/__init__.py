"""One ring on two birds, or twice on one: within a visit, put on twice, seen before, in two boxes."""
