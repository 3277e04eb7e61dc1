"""Files that go out."""
