"""The feed year as a file for people."""
