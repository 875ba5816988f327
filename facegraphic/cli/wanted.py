"""Arguments that several commands take: names of jobs, and lists of names parted by commas."""

import os
from pathlib import Path
from typing import Any

import click


class _JobFile(click.Path):
    """The path of a job file; what can be no file's name is told as a mistake of the command line."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if not path.name:
            self.fail(f'"{value}" names no file', param, ctx)
        try:
            str(path).encode("utf-8")
        except UnicodeEncodeError:
            self.fail(f"{str(path)!a} is no name in UTF-8; rename the file", param, ctx)
        return path


class Folder(click.Path):
    """The path of a folder; no name at all, as of a variable that is not set, would be this folder."""

    name = "folder"

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        if value in ("", b""):
            self.fail("an empty name; . is this folder", param, ctx)
        return Path(os.fsdecode(super().convert(value, param, ctx)))


jobs_argument = click.argument("jobs", nargs=-1, required=True, type=_JobFile(path_type=Path), metavar="JOB...")


def some_of(names: tuple[str, ...]) -> dict[str, Any]:
    """What makes an option take some of a few names, parted by commas: a shell completes each."""

    def read(ctx: click.Context, param: click.Parameter, value: str) -> tuple[str, ...]:
        asked = [part.strip() for part in value.split(",") if part.strip()]
        if not asked or set(asked) - set(names):
            raise click.BadParameter(f"choose from {', '.join(names)}, parted by commas")
        return tuple(name for name in names if name in asked)

    def complete(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[str]:
        before, comma, begun = incomplete.rpartition(",")
        left = [name for name in names if name not in before.split(",")]
        return [f"{before}{comma}{name}" for name in left if name.startswith(begun)]

    return {"callback": read, "shell_complete": complete, "show_default": True}
