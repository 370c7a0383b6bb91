"""What an owner means who answers a text message.

47 CFR 64.1200(a)(10) (89 FR 15756): these words end the texts, whatever else is thought of them. The carriers add
STOPALL and, for Canada, ARRET; START and UNSTOP let texts come again, HELP and INFO ask who this is (from memory).
"""

import re
import unicodedata
from enum import StrEnum

ENDS = {"stop", "quit", "end", "revoke", "optout", "cancel", "unsubscribe", "stopall", "arret"}
BEGINS = {"start", "unstop"}
ASKS = {"help", "info", "aide"}


class Reply(StrEnum):
    """What an answer asks for."""

    STOP = "stop"
    START = "start"
    HELP = "help"
    WORDS = "words"


def meaning_of(text: str) -> Reply:
    """Capitals, accents, spaces and punctuation don't matter: "Stop!", "OPT-OUT" and "arrêt" are understood.

    A sentence that begins with one of the words is left to a person, who reads what is meant.
    """
    bare = unicodedata.normalize("NFKD", text).casefold()
    word = re.sub(r"[^a-z]", "", bare)
    if word in ENDS:
        return Reply.STOP
    if word in BEGINS:
        return Reply.START
    return Reply.HELP if word in ASKS else Reply.WORDS
