"""Faults a clinic can put right. Anything else is ours, and keeps its traceback in a log file."""

# What the command exits with. 0 is done; 1 is our own fault.
EXIT_OUR_FAULT = 1
EXIT_USAGE = 2
EXIT_REFUSED = 3
EXIT_STRICT = 4
EXIT_LOCKED = 5


class UserFault(Exception):
    """A fault in a file, a setting or a request. Shown as text, without a traceback.

    where: file, row and column, or the setting; found: what stands there (never a value of an
    identifying column); wanted: what would be right; fix: the move to make.
    """

    exit_code = EXIT_USAGE

    def __init__(self, where: str, found: str, wanted: str, fix: str):
        self.where, self.found, self.wanted, self.fix = where, found, wanted, fix
        super().__init__(f"{where}\n  found   {found}\n  wanted  {wanted}\n  to fix  {fix}")

    def as_dict(self) -> dict[str, str]:
        return {"where": self.where, "found": self.found, "wanted": self.wanted, "fix": self.fix}


class SettingsFault(UserFault):
    """clinic.toml, mapping.toml or the command line asks for something we cannot do."""


class RefusedFile(UserFault):
    """A file that was not loaded at all."""

    exit_code = EXIT_REFUSED


class DatabaseLocked(UserFault):
    """Another process has the clinic's database open."""

    exit_code = EXIT_LOCKED
