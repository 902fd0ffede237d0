"""The first screen of each command: what a decision needs, and no more."""
