"""What can go wrong that a user can do something about.

Every message is one sentence that says what happened, where, and what to do; commands print it and leave
with `exit_code`, the window shows it standing in the page. Anything else that is raised is a fault of ours.

    BenchtempError
    ├── BadInput            a value, a file or an option that cannot be used
    │   └── DamagedFile     a file of ours that no longer reads as one
    ├── SourceError         readings do not come
    │   ├── PortMissing     there is no such port
    │   ├── PortDenied      the system will not let us open it
    │   ├── PortBusy        another program holds it
    │   ├── PortLost        it went away while we read
    │   └── NoReadings      something arrives (or nothing), but never a reading
    └── StorageError        the disk refuses to take what we want to keep
"""

from __future__ import annotations


class BenchtempError(Exception):
    """Something the user can mend; `str(error)` is the sentence to show."""

    exit_code = 1


class BadInput(BenchtempError):
    """A value, an option or a file that cannot be used as it is."""


class DamagedFile(BadInput):
    """A file that claims to be ours but cannot be read as one."""


class SourceError(BenchtempError):
    """Readings do not come."""


class PortMissing(SourceError):
    """There is no such port."""


class PortDenied(SourceError):
    """The system does not allow opening the port."""


class PortBusy(SourceError):
    """Another program holds the port."""


class PortLost(SourceError):
    """The interface went away while it was read."""


class NoReadings(SourceError):
    """The port is open, but nothing that reads as a temperature arrives."""


class StorageError(BenchtempError):
    """The disk does not take what must be kept."""
