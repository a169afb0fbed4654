"""Anesthesia records in, pages for the meeting, the stock room and the case log out.

Start reading at run.py, which is the whole pipeline on one page; schema.py states the tables.
"""

__version__ = "0.1.0"
