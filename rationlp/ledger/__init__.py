"""The mixes that were made, kept with the book, and what was weighed for them."""
