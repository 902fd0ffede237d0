"""Whether a book can be used as it stands, beyond what its reading finds."""
