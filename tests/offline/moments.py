"""When a worker of the site may be told to die (``mortal.py``)."""

FILE = "die-at"
OF_EVENTS = (
    "events written, not committed",
    "events committed, no receipt",
    "receipts made, no answer",
    "check-up half made",
)
OF_PHOTOS = ("photo on disk, not committed", "photo committed, no answer")
MOMENTS = OF_EVENTS + OF_PHOTOS
