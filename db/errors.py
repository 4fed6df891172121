"""Errors of the store. None of them knows of HTTP.

StoreError
├── DatabaseUrlError        the URL names no database that the program can keep records in
├── NewerDatabaseError      a newer version of the program has upgraded this database
└── ForeignDatabaseError    the database holds tables, but not this program's
"""


class StoreError(Exception):
    """The base of the store's own errors; the text is a sentence for whoever runs the program."""


class DatabaseUrlError(StoreError):
    """The URL names no database that the program can keep records in."""


class NewerDatabaseError(StoreError):
    """A newer version of the program has upgraded this database; using it could damage what it holds."""


class ForeignDatabaseError(StoreError):
    """The database holds tables, but not this program's."""
