"""What `rationlp year` shows."""
