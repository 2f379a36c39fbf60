"""The terminal: commands, and what a consultation shows there."""
