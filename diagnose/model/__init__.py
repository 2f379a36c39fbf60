"""The form of knowledge, and how its files are read."""
