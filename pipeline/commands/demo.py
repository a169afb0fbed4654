"""rounds demo: an invented clinic, two years of records with their faults, through to every report."""

from pathlib import Path

from pipeline.commands.answers import answer, exit_of, parts_of, say, tell


def add(commands):
    command = commands.add_parser(
        "demo",
        help="an invented clinic, two years of records, through to every report",
        description="Writes an invented clinic's records into DIR, loads and checks them, writes every report.",
    )
    command.add_argument("folder", nargs="?", type=Path, default=Path("demo_clinic"), metavar="DIR")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.beside import beside
    from pipeline.progress import Progress
    from pipeline.run import rounds_of
    from pipeline.simulate import write_clinic

    asked.clinic = asked.folder
    progress = Progress()
    progress.step("inventing a clinic and two years of its records")
    write_clinic(asked.folder)
    with beside() as second:
        outcome = rounds_of(asked.folder, progress=progress, second=second)
    tell(outcome)
    answer(asked, **parts_of(outcome))
    say("Everybody and everything in these pages is invented.")
    if not asked.json:
        print(asked.folder / "reports" / "index.html")
    return exit_of(outcome, strict=False)
