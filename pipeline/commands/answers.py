"""How a command answers: people's words to stderr, a machine's JSON to stdout."""

import json
import sys

from pipeline.errors import EXIT_REFUSED, EXIT_STRICT


def say(*sentences: str) -> None:
    """Words for people."""
    for sentence in sentences:
        print(sentence, file=sys.stderr)


def answer(asked, **parts) -> None:
    """The machine's answer, when asked for with --json."""
    if asked.json:
        print(json.dumps(parts, default=str, ensure_ascii=False))


def exit_of(outcome, strict: bool) -> int:
    """0, 3 where a file was refused, 4 where --strict has something to hold against the records."""
    if outcome.receipt is not None and outcome.receipt.refused:
        return EXIT_REFUSED
    if strict:
        quarantined = outcome.receipt is not None and outcome.receipt.quarantined
        stopped = outcome.verdicts is not None and outcome.verdicts.worst_stop
        if quarantined or stopped:
            return EXIT_STRICT
    return 0


def parts_of(outcome) -> dict:
    """The JSON of a run: what it has of receipt, verdicts, month and pages."""
    parts = {"month": outcome.month, "pages": [str(page) for page in outcome.pages]}
    if outcome.receipt is not None:
        parts["load"] = outcome.receipt.as_dict()
    if outcome.verdicts is not None:
        parts["checks"] = outcome.verdicts.as_dict()
    return parts


def tell(outcome) -> None:
    """The run in sentences."""
    if outcome.receipt is not None:
        say(*outcome.receipt.sentences())
    if outcome.verdicts is not None:
        say(*outcome.verdicts.sentences())
    if outcome.pages:
        say(f"Report month {outcome.month}. Open {outcome.pages[0]}")
