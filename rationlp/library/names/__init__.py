"""What people call the feeds, stages and nutrients of the library."""
