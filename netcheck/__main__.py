"""`python -m netcheck` is the same as the command."""

from netcheck.cli import main

if __name__ == "__main__":
    main()
