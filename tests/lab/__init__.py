"""Labs: real tools run in set-ups made to fail; what they print becomes fixtures."""
