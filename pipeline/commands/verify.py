"""rounds verify: whether the rows behind a signed sheet still say what they said when it was printed."""

from pathlib import Path

from pipeline.commands.answers import answer, say
from pipeline.errors import EXIT_STRICT


def add(commands):
    command = commands.add_parser(
        "verify",
        help="check whether the rows behind a signed sheet of the case log still say the same",
        description="Compares the rows a printed sheet covers with what is loaded now. Exits 4 where they differ.",
    )
    command.add_argument("sheet", type=Path, metavar="SHEET", help="the sheet's .html file, or its name")
    command.add_argument("--code", help="the code printed on the paper, to check that it is this sheet's")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.progress import Progress
    from pipeline.training.verify import check_in

    progress = Progress()
    verdict = check_in(asked.clinic, asked.sheet, asked.code, progress)
    progress.finish()
    say(*verdict.sentences())
    answer(asked, **verdict.as_dict())
    return 0 if verdict.holds else EXIT_STRICT
