"""The simulated clock and its sound, the exercises and the marks."""
