"""The feed library: feeds, animals, needs and limits as CSV tables, explained in README.md beside this file."""
