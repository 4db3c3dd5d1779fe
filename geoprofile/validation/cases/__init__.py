"""Cases of the book, one file for each family of problems; each gives `CASES`."""
