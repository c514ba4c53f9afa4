#!/usr/bin/env python
"""The command line of the lab."""

from __future__ import annotations

import os
import sys


def main() -> None:
    """Run one command."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labflow.settings")
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit("Django is not installed here. Run `make setup`, then use .venv/bin/python.")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
