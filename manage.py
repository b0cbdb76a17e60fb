#!/usr/bin/env python3
"""The one door: demo, serve, test, lint, and every command of the project. Needs Python alone."""

import sys

if sys.version_info < (3, 11):  # noqa: UP036  (said in a sentence, by whichever Python is at hand)
    sys.exit(
        "Baywright needs Python 3.11 or later, and this is Python {}.{}. "
        "Start it with a newer one, for example: python3.12 manage.py".format(*sys.version_info)
    )

from config.entrance import main

if __name__ == "__main__":
    sys.exit(main(sys.argv))
