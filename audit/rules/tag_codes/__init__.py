"""Parts of the question whether a tag number could be one, and is one that the team had."""
