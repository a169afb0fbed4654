"""Figures as plain plotly JSON: traces of type scatter and bar, drawn by the plotly.js of reports/static.

Every function takes plain lists and dicts and hands on a theme.Drawing; none of them reads the database.
Text that comes from a record passes theme.plain() before it reaches a figure.
"""
