"""What the beats say in figures: beat error and rate with their uncertainties, or a named reason why not."""
