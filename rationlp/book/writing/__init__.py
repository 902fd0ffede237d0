"""A new book, ready to fill in, as a workbook or a folder of CSV files."""
