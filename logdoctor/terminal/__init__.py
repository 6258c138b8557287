"""The terminal app: screens, widgets, messages and styles apart; what it shows comes from the core's public functions."""
