"""rounds month: load, check and report in one; what a scheduler runs."""

from pipeline.commands.answers import answer, exit_of, parts_of, tell


def add(commands):
    command = commands.add_parser(
        "month",
        help="load, check and report in one: what a scheduler runs",
        description="Loads what is in exports/, checks it and writes every report of a month.",
    )
    command.add_argument("month", nargs="?", metavar="YYYY-MM", help="the report month (the last complete one)")
    command.add_argument("--share", action="store_true", help="pages to hand on: counts below 5 withheld, no case ids")
    command.add_argument("--strict", action="store_true", help="exit 4 on quarantined rows or a failed stop rule")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.beside import beside
    from pipeline.progress import Progress
    from pipeline.run import rounds_of

    with beside() as second:
        outcome = rounds_of(asked.clinic, month=asked.month, share=asked.share, progress=Progress(), second=second)
    tell(outcome)
    answer(asked, **parts_of(outcome))
    return exit_of(outcome, asked.strict)
