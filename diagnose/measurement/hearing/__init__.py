"""The beats of a clock in a sound: which were heard, when, and how sure."""
