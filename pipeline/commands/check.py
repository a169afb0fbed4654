"""rounds check: every rule over what is loaded, and the record-quality report."""

from pipeline.commands.answers import answer, exit_of, parts_of, tell


def add(commands):
    command = commands.add_parser(
        "check",
        help="judge the loaded records by every rule and write the records report",
        description="Every rule over what is loaded; writes the record-quality report.",
    )
    command.add_argument("--strict", action="store_true", help="exit 4 when a rule of severity stop failed")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.progress import Progress
    from pipeline.run import check_only

    outcome = check_only(asked.clinic, Progress())
    tell(outcome)
    answer(asked, **parts_of(outcome))
    return exit_of(outcome, asked.strict)
