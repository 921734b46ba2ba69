"""`python -m spotplate.cli`."""

from .app import main

main()
