"""Files for people: mix sheets as xlsx, HTML and CSV, the review copy, the page of a new sample."""
