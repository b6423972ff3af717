"""What can go wrong, as one small tree.

::

    StringfluxError            exit code 1
    ├── InputError             exit code 2: the person can mend it
    │   ├── CaseError          a case file or an option says something impossible
    │   └── OutputError        the results cannot be written where they were asked for
    ├── SolveError             a computation did not reach its stopping rule
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


class MissingLibraryError(StringfluxError):
    """A shared library of the machine is missing."""
