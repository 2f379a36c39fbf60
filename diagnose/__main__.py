"""`python -m diagnose` is the command `diagnose`."""

from diagnose.terminal.commands import main

main()
