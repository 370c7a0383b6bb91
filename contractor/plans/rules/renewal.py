"""Renewal: when the notice has to go out, and whether a year may be renewed without being asked again.

The laws change and differ; the table is a starting point that a lawyer should read for the states where the company
works. Every row can be changed under Set-up. From memory where ``is_read`` is False.
"""

from dataclasses import dataclass
from datetime import date, timedelta

# Enough time for a letter, and inside most states' windows.
USUAL_FIRST_DAYS, USUAL_LAST_DAYS = 45, 30


@dataclass(frozen=True, slots=True, kw_only=True)
class NoticeRule:
    """A notice goes out at most ``first_days`` and at least ``last_days`` before the renewal."""

    state: str
    first_days: int
    last_days: int
    source: str
    is_read: bool = False

    def window(self, renews_on: date) -> tuple[date, date]:
        """The first and the last day on which the notice counts."""
        return renews_on - timedelta(days=self.first_days), renews_on - timedelta(days=self.last_days)


# Terms of a year that renew for a year. Where a law counts from the last day to cancel, that is the renewal day here,
# because a plan can be cancelled until then.
NOTICE_RULES = (
    NoticeRule(state="CA", first_days=45, last_days=15, source="Cal. Bus. & Prof. Code 17602(b), from memory"),
    NoticeRule(state="CO", first_days=40, last_days=25, source="Colo. Rev. Stat. 6-1-732, from memory"),
    NoticeRule(
        state="CT",
        first_days=60,
        last_days=15,
        source="Conn. Gen. Stat. 42-126b, as retold by a law firm",
        is_read=True,
    ),
    NoticeRule(state="DC", first_days=60, last_days=30, source="D.C. Code 28A-203, from memory"),
    NoticeRule(state="FL", first_days=60, last_days=30, source="Fla. Stat. 501.165, from memory"),
    NoticeRule(state="GA", first_days=60, last_days=30, source="Ga. Code 13-12-3, from memory"),
    NoticeRule(state="IL", first_days=60, last_days=30, source="815 ILCS 601/10, from memory"),
    NoticeRule(state="NC", first_days=45, last_days=15, source="N.C. Gen. Stat. 75-41, from memory"),
    NoticeRule(
        state="NY",
        first_days=30,
        last_days=15,
        source="N.Y. Gen. Oblig. Law 5-903 (service to real property), from memory",
    ),
    NoticeRule(state="VA", first_days=60, last_days=30, source="Va. Code 59.1-207.46, from memory"),
)
USUAL_RULE = NoticeRule(
    state="",
    first_days=USUAL_FIRST_DAYS,
    last_days=USUAL_LAST_DAYS,
    source="No rule of this state in the table: common practice, no source",
)


def notice_rule(state: str, changed: dict[str, NoticeRule]) -> NoticeRule:
    """The rule of a state: as changed under Set-up, else the table's, else the usual days."""
    wanted = state.strip().upper()
    known = {rule.state: rule for rule in NOTICE_RULES}
    return changed.get(wanted) or known.get(wanted) or changed.get("") or USUAL_RULE


def may_send_notice(rule: NoticeRule, *, renews_on: date, on: date) -> bool:
    """Whether a notice sent on this day counts."""
    first, last = rule.window(renews_on)
    return first <= on <= last


def renews_by_itself(*, is_automatic: bool, has_consent: bool, is_same_edition: bool, was_notice_in_time: bool) -> bool:
    """Whether the next year begins without a fresh yes.

    Only where the owner agreed to exactly that, to exactly these words, and was told in time. Another edition or price
    is another bargain, and is asked for (15 U.S.C. 8403(2): express informed consent before charging).
    """
    return is_automatic and has_consent and is_same_edition and was_notice_in_time
