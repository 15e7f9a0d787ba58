#!/usr/bin/env python3
"""The one command of the project: sets up what is missing, then runs what was asked."""

import sys

from maker.setup.python_version import why_unfit


def main() -> int:
    """Run the command named on the command line."""
    unfit = why_unfit(sys.version_info)
    if unfit:
        sys.exit(unfit)
    # Only now: the rest is written for the Python that was just made sure of.
    from maker.setup.commands import run

    return run(sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
