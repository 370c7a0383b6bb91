"""When something was done, told from a device's clock that may be wrong and a server's that came later.

No clock decides which answer stands; this is only for the dates that a record carries.
"""

from datetime import datetime, timedelta
from typing import Final

from contractor.tablet.rules.events import TabletEvent

# Work that is older than this when it arrives came out of a drawer, or the clock was wrong: then the day on which it
# came is written, and the event itself keeps what the tablet said.
BELIEVED_FOR: Final = timedelta(days=14)


def moment_of(event: TabletEvent, *, received_at: datetime) -> datetime:
    """The moment that goes on record: the device's, put right by the known error of its clock, when it lies in the
    two weeks before it was received; else the moment at which it was received."""
    if received_at - BELIEVED_FOR <= event.moment <= received_at:
        return event.moment
    return received_at
