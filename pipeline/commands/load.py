"""rounds load: reads exports into the database, all or nothing a file, safe to repeat."""

from pathlib import Path

from pipeline.commands.answers import answer, exit_of, parts_of, tell


def add(commands):
    command = commands.add_parser(
        "load",
        help="read exports into the database; says what was new, unchanged, replaced, quarantined",
        description="Reads exports into the database: all or nothing a file, safe to repeat.",
    )
    command.add_argument("paths", nargs="*", type=Path, metavar="PATH", help="files or folders (exports/)")
    command.add_argument("--strict", action="store_true", help="exit 4 when rows were quarantined")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.progress import Progress
    from pipeline.run import load_only

    outcome = load_only(asked.clinic, asked.paths or None, Progress())
    tell(outcome)
    answer(asked, **parts_of(outcome))
    return exit_of(outcome, asked.strict)
