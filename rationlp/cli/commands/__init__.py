"""A file each command, by its name."""
