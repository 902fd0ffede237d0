"""What `rationlp library` shows."""
