"""Signal or noise: what a count, a rate, a time or a series of months can and cannot show.

One file a method, pure functions over plain numbers: nothing here reads the database, the settings or a file.
"""
