"""The subcommands of rounds, one file each: add() states its options, run() does it. Slow imports stay inside."""
