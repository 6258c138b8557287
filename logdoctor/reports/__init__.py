"""One module a format; all read the one verdict."""
