"""What has to be chosen before the settings are read: whose data a command works on."""

from __future__ import annotations

from collections.abc import MutableMapping
from pathlib import Path

from crm.setting_up.bootstrap import OFF
from crm.setting_up.folders import default_root

SERVICES = ("DATABASE_URL", "REDIS_URL")


def choose_data(arguments: list[str], environment: MutableMapping[str, str], project: Path) -> None:
    """Let `--data FOLDER` win over OVERWINTER_DATA, and keep demo and tests apart from the real studio.

    `--data` is understood by every command, so it is taken out of `arguments`. The demo takes the folder
    `overwinter-demo` beside the studio's own, whatever OVERWINTER_DATA says, so that trying it out can never
    touch a real studio's record, and its mail stays in that folder. The tests see none of the installation's settings.
    """
    command = arguments[0] if arguments else ""
    if command == "test":
        for name in [name for name in environment if name.startswith("OVERWINTER_") and name != OFF]:
            del environment[name]
        for name in SERVICES:
            environment.pop(name, None)
        environment["OVERWINTER_DATA"] = str(project / ".venv" / "test-data")
        return
    if command == "demo":
        # The tour builds everything anew: a demo that somebody works in is not its to empty.
        name = "overwinter-tour" if "--tour" in arguments else "overwinter-demo"
        environment["OVERWINTER_DATA"] = str(default_root().with_name(name))
        # Its owners are invented: whatever mail server is set, nothing may leave by it.
        for name in [name for name in environment if name.startswith("OVERWINTER_SMTP_")]:
            del environment[name]
        # Whoever tries it out should not have to wait for the post.
        environment.setdefault("OVERWINTER_TICK_SECONDS", "2")
    given = _take_out("--data", arguments)
    if given is not None:
        environment["OVERWINTER_DATA"] = given


def _take_out(option: str, arguments: list[str]) -> str | None:
    """The value of an option, which is removed. Without a value it is left for the command to complain of."""
    for position, argument in enumerate(arguments):
        if argument == option and position + 1 < len(arguments):
            value = arguments[position + 1]
            del arguments[position : position + 2]
            return value
        if argument.startswith(option + "="):
            del arguments[position]
            return argument.partition("=")[2]
    return None
