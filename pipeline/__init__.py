"""Anesthesia records in, pages for the meeting, the stock room and the case log out.

Start reading at run.py, which is the whole pipeline on one page; schema.py states the tables.
"""

import os

# Our matrices are small: the threads of numpy's linear algebra wait for each other longer than they compute.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
