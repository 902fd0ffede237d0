"""Many farms: the rations of hundreds of books, by as many processes as there are."""
