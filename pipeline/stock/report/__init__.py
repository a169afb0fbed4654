"""The stock report: what was used, what the shelf says, what comes, what to order, the book. One file a section."""
