"""What a run of the checks found, rule by rule, and what that means for the pages."""

from dataclasses import asdict, dataclass

# passed: no more failed than tolerated. not_applicable: nothing to judge, which is never a pass.
OUTCOMES = ("failed", "could_not_run", "passed", "not_applicable")

# What the rows of a table are called in a sentence.
ROWS = {
    "cases": "cases", "case_people": "parts in cases", "vitals": "readings", "drugs": "doses", "events": "events",
    "equipment": "equipment rows", "stock": "stock movements", "files": "files",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Outcome:
    """One rule's outcome. share: failed / judged, None where nothing was judged; counted_by: 'sql', or
    'sql and great expectations' where its own count of the rows agreed; reason: why it could not be run."""

    rule_id: str
    table_name: str
    level: str
    column_name: str
    severity: str
    in_scope: int
    judged: int
    failed: int
    share: float | None
    tolerated: float
    outcome: str
    counted_by: str
    sentence: str
    fix: str
    why: str
    source: str
    reason: str

    @property
    def not_judged(self) -> int:
        return self.in_scope - self.judged

    def said(self) -> str:
        """One sentence with its counts.

        >>> Outcome("x", "cases", "row", "", "flag", 10, 9, 2, 2 / 9, 0.0, "failed", "sql",
        ...         "the tube came out before the gas went off", "", "", "", "").said()
        'cases: the tube came out before the gas went off (2 of 9 judged, 1 could not be judged).'
        """
        if self.outcome == "could_not_run":
            return f"{self.table_name}: rule {self.rule_id} could not be run: {self.reason}."
        unknown = f", {self.not_judged:,} could not be judged" if self.not_judged else ""
        return f"{self.table_name}: {self.sentence} ({self.failed:,} of {self.judged:,} judged{unknown})."


@dataclass(frozen=True, slots=True)
class Verdicts:
    """All outcomes of one run, worst first."""

    run_id: int
    outcomes: tuple[Outcome, ...]

    @property
    def worst_stop(self) -> Outcome | None:
        """The failed rule that stops the pages, the one with the largest share first; None where none does.

        A stop rule that could not be run stops as well: nobody knows whether the records hold.
        """
        return next(iter(self.stops), None)

    @property
    def stops(self) -> list[Outcome]:
        found = [one for one in self.outcomes if one.severity == "stop" and one.outcome in ("failed", "could_not_run")]
        return sorted(found, key=lambda one: -(one.share or 0))

    def count(self, outcome: str) -> int:
        return sum(one.outcome == outcome for one in self.outcomes)

    def as_dict(self) -> dict:
        """For --json: counts of outcomes, and every rule that did not pass."""
        return {
            "run": self.run_id,
            **{outcome: self.count(outcome) for outcome in OUTCOMES},
            "stops": [one.rule_id for one in self.stops],
            "rules": [asdict(one) for one in self.outcomes if one.outcome in ("failed", "could_not_run")],
        }

    def sentences(self) -> list[str]:
        """For people: what stops first, with what to do, then the failed rules, then the tally."""
        said = [f"STOP {one.said()} To do: {one.fix}." for one in self.stops]
        said += [
            one.said()
            for one in self.outcomes
            if one.outcome in ("failed", "could_not_run") and one.severity in ("set_aside", "flag")
        ]
        tally = f"{len(self.outcomes)} rules: {self.count('passed')} passed, {self.count('failed')} failed, "
        tally += f"{self.count('not_applicable')} had nothing to judge"
        if self.count("could_not_run"):
            tally += f", {self.count('could_not_run')} could not be run"
        return [*said, tally + "."]
