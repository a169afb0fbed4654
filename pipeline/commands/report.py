"""rounds report: the pages over what is loaded."""

from pipeline.commands.answers import answer, exit_of, parts_of, tell

NAMES = ("quality", "stock", "training", "records")


def add(commands):
    command = commands.add_parser(
        "report",
        help="write the pages: quality, stock, training, records; all of them without a name",
        description="Writes the pages over what is loaded. Run `rounds load` first.",
    )
    command.add_argument("name", nargs="?", choices=NAMES, help="one page (all)")
    command.add_argument("--month", metavar="YYYY-MM", help="the report month (the last complete one)")
    command.add_argument("--share", action="store_true", help="pages to hand on: counts below 5 withheld, no case ids")
    command.add_argument("--group", action="store_true", help="a group's quality page, after `rounds results --pool`")
    command.add_argument("--summary", action="store_true", help="print the quality summary, for e-mail or chat")
    command.add_argument("--pdf", action="store_true", help="print the pages to PDF with the browser on this machine")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.beside import beside
    from pipeline.progress import Progress
    from pipeline.run import REPORTS, pages_of_group, rounds_of

    names = (asked.name,) if asked.name else REPORTS
    if asked.group:
        outcome = pages_of_group(asked.clinic, asked.month)
    else:
        with beside() as second:
            outcome = rounds_of(
                asked.clinic, load=False, reports=names, month=asked.month, share=asked.share, progress=Progress(),
                second=second,
            )  # fmt: skip
    if asked.pdf:
        from pipeline.reporting.pdf import print_pages

        outcome.pages += print_pages(outcome.pages)
    tell(outcome)
    if asked.summary and not asked.json:
        from pipeline.run import summary_of

        print(summary_of(asked.clinic, outcome.month, asked.share, asked.group))
    answer(asked, **parts_of(outcome))
    return exit_of(outcome, strict=False)
