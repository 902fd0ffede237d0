"""The farm's page served on this computer: it follows the book, and offers what the commands make."""
