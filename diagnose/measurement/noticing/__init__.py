"""What else a recording tells: odd beats, a dying swing, a strike, the turns of the wheels."""
