"""The book from cells to records: files, cells, typed values, rows, and what must fit together."""
