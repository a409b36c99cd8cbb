"""Results of a class, from files to one page."""
