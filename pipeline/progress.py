"""What is being done, on a terminal; nothing in a pipe. Always stderr: stdout is for answers."""

import sys
import time


class Progress:
    """One line that says the step and how far it is; silent unless stderr is a terminal."""

    def __init__(self, stream=None):
        self.stream = stream or sys.stderr
        self.live = self.stream.isatty()
        self.began = time.monotonic()

    def step(self, sentence: str, done: int | None = None, total: int | None = None) -> None:
        """Show a step; with done and total, how far it is."""
        if not self.live:
            return
        far = f" {done:,} of {total:,}" if total else ""
        self.stream.write(f"\r\x1b[K{time.monotonic() - self.began:6.1f} s  {sentence}{far}")
        self.stream.flush()

    def finish(self) -> None:
        """Clear the line, so that what follows starts on a clean one."""
        if self.live:
            self.stream.write("\r\x1b[K")
            self.stream.flush()


class Silent(Progress):
    """Says nothing; for calls from code."""

    def __init__(self):
        super().__init__()
        self.live = False
