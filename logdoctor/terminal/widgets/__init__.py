"""Widgets: they receive values and post messages."""
