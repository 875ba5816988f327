"""Let ``python -m facegraphic`` do what the ``facegraphic`` command does."""

from facegraphic.cli.main import run

if __name__ == "__main__":
    run()
