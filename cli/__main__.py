"""`python -m spotplate.cli`."""

from .app import main

if __name__ == "__main__":  # work spread over several processes imports this module again
    main()
