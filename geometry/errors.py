"""What can go wrong, as one small tree.

::

    StringfluxError            exit code 1
    ├── InputError             exit code 2: the person can mend it
    │   ├── CaseError          a case file or an option says something impossible
    │   └── OutputError        the results cannot be written where they were asked for
    ├── SolveError             a computation did not reach its stopping rule
    ├── WriteError             the disk is full, or gone, in the middle; what was finished is kept
    ├── StudyStopped           exit code 130: a person stopped a study; what was finished is kept
    └── MissingLibraryError    the machine lacks a library; the message says which line installs it

Every message is one sentence (or two): where, what was received, what would do.
"""

from __future__ import annotations


class StringfluxError(Exception):
    """Base of everything stringflux raises on purpose."""

    exit_code = 1


class InputError(StringfluxError):
    """Something the person who typed it can put right."""

    exit_code = 2


class CaseError(InputError):
    """A case file, or an option, says something that cannot be."""


class OutputError(InputError):
    """The results cannot be written where they were asked for."""


class SolveError(StringfluxError):
    """A computation did not reach its stopping rule."""


class WriteError(StringfluxError):
    """Results cannot be written any further: the disk is full, or gone."""


class StudyStopped(StringfluxError):  # noqa: N818 - it is no error
    """A person stopped a study before its end."""

    exit_code = 130


class MissingLibraryError(StringfluxError):
    """A shared library of the machine is missing."""
