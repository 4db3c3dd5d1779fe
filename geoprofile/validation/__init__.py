"""The validation book: what each number of a report is held against, run on the reader's machine.

The rooms `cases` and `book` see every other room, as tests do. Nothing is imported here, for the
report needs the names of the topics alone.
"""
