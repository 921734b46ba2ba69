"""Exit codes of the commands, as documented in README."""

SETTLED = 0
NOT_SETTLED = 1
BAD_INPUT = 2
INTERRUPTED = 130  # as shells report a program ended by Ctrl-C
