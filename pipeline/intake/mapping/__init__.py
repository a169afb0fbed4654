"""A clinic's export brought to our columns, words, units and times, by mapping.toml and whole-column evidence."""
