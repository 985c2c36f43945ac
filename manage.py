#!/usr/bin/env python3
"""The one command: makes itself ready where needed, then does what was asked for."""

from __future__ import annotations

import os
import sys
from pathlib import Path


def main() -> int:
    """Check Python, set up, check the settings, and hand over to Django."""
    if sys.version_info < (3, 11):
        found = ".".join(str(part) for part in sys.version_info[:2])
        print("Overwinter needs Python 3.11 or newer; this is {}.".format(found), file=sys.stderr)
        return 1
    # Only now: what is imported here may use anything that Python 3.11 has.
    from crm.setting_up.bootstrap import ensure
    from crm.setting_up.choices import choose_data
    from crm.setting_up.system import CannotSetUp

    project = Path(__file__).resolve().parent
    arguments = sys.argv[1:]
    try:
        ensure(project, arguments)
    except CannotSetUp as error:
        print(error, file=sys.stderr)
        return 1
    choose_data(arguments, os.environ, project)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "crm.config.settings")
    return run([sys.argv[0], *arguments])


def run(argv: list[str]) -> int:
    """Let Django run the command, unless a setting cannot be right."""
    from crm.config.reader import SettingsError

    try:
        import crm.config.settings  # noqa: F401
    except SettingsError as error:
        print("\n".join(error.sentences), file=sys.stderr)
        return 1
    from django.core.management import execute_from_command_line

    execute_from_command_line(argv)
    return 0


if __name__ == "__main__":
    sys.exit(main())
