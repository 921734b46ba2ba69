"""Exit codes of the commands, as documented in README."""

SETTLED = 0
NOT_SETTLED = 1
BAD_INPUT = 2
