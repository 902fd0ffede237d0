"""The sheets of the feed year."""
