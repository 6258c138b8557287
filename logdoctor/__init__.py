"""Reads the console log of a failed build and says what stopped it, why, and what to change."""
