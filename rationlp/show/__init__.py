"""Answers as text, JSON and tables. Nothing here calculates; it only rounds and labels."""
