"""What a mapping did to a file, counted once a rule and column, with two examples; identifying columns without."""

from dataclasses import dataclass, field

from pipeline.intake.grid import Note

EXAMPLES = 2


@dataclass
class Tally:
    """Notes in the making. add is called once a distinct cell text, with how often it stood there."""

    found: dict[tuple[str, str, str], list] = field(default_factory=dict)

    def add(self, rule: str, kind: str, column: str, sentence: str, count: int = 1, example: str = "") -> None:
        """Count a rule's use. kind: 'A', 'N' or 'W'; example: 'before -> after', '' for identifying columns."""
        entry = self.found.setdefault((rule, column, sentence), [kind, 0, []])
        entry[1] += count
        if example and len(entry[2]) < EXAMPLES and example not in entry[2]:
            entry[2].append(example)

    def notes(self) -> list[Note]:
        return [
            Note(rule, kind, column, count, sentence, tuple(examples))
            for (rule, column, sentence), (kind, count, examples) in self.found.items()
        ]
