"""`python -m netcheck` is the same as the command."""

from netcheck.cli import run

if __name__ == "__main__":
    run()
