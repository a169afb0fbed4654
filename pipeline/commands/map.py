"""rounds map: drafts how an export reads, from its column names and cells."""

import json
import sys
from pathlib import Path


def add(commands) -> None:
    command = commands.add_parser(
        "map",
        help="draft mapping.toml from exports whose columns are not ours",
        description="Adds to mapping.toml how each FILE reads. What stands there is never changed; what the file "
        "cannot tell becomes a question, and its files do not load until it is answered.",
    )
    command.add_argument("files", nargs="+", type=Path, metavar="FILE", help="an export of the clinic")
    command.set_defaults(run=run)


def run(asked) -> int:
    from pipeline.intake.mapping.drafter import draft_into

    done = draft_into(asked.clinic / "mapping.toml", asked.files)
    for one in done:
        for sentence in one.sentences():
            print(sentence, file=sys.stderr)
    if asked.json:
        print(json.dumps([one.as_dict() for one in done], ensure_ascii=False))
    return 0
