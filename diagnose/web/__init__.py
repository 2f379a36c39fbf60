"""The page: the same consultation as in the terminal, in a browser on this machine."""
