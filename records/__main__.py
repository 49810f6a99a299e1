"""Run the command line with ``python -m records``."""

from records.cli.app import entrypoint

if __name__ == "__main__":
    entrypoint()
