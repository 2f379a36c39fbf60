"""Questions of reckoning: what a technician asks of numbers, and the answer in a sentence with its limits."""
