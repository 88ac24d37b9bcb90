"""The pages, a module for each theme; a view takes a visit and gives a response."""
