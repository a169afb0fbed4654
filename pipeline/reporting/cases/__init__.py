"""One anesthetic as a chart and as words."""
