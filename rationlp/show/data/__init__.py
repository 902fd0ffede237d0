"""Answers as JSON documents and tables."""
