"""One screen a module; only screens act."""
