"""The farm book: one farm's bins, samples, offers and animals, as a workbook or a folder of CSV files."""

from rationlp.book.checks.check import check_book, open_book
from rationlp.book.reading.read import read_book
from rationlp.book.records import Book
from rationlp.book.writing.write import new_book

__all__ = ["Book", "check_book", "new_book", "open_book", "read_book"]
