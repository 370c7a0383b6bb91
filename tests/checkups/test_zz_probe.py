import pytest
from datetime import timedelta
from contractor.checkups.models import Finding
from contractor.notices.models import Notice
from contractor.checkups.actions.reporting import make_report
from tests.checkups import factories as made
from tests.checkups.test_findings_and_swap import swap
def test_unit(checkup, at):
    a = made.answer(checkup, "rest-volts", at, typed="500", unit="in"); print("UNIT in kept:", a.number_si, a.unit, a.verdict)
def test_unknown_unit(checkup, at):
    with pytest.raises(KeyError): made.answer(checkup, "rest-volts", at, typed="5", unit="zz")
    print("UNKNOWN UNIT is KeyError")
def test_changed_after_signature(checkup, at):
    from contractor.checkups.actions.checkup import finish_checkup
    made.answer_all(checkup, at); made.signed(checkup, at); made.answer(checkup, "rest-volts", at, typed="11.0", unit="V")
    print("FINISHED AFTER CHANGE:", finish_checkup(checkup_id=checkup.pk, by_user=checkup.technician, at=at).finished_at)
def test_stale(checkup, at):
    made.answer(checkup, "temperature", at, typed="70", unit="degF"); a=made.answer(checkup, "load-test", at, typed="9.5", unit="V"); made.answer(checkup, "temperature", at, typed="50", unit="degF"); a.refresh_from_db()
    from contractor.checkups.lines import Sheet
    print("STORED", a.verdict, "SHOWN", [v.word for k,v in Sheet(checkup).verdicts.items() if k[0]=="load-test"])
def test_swap_without_finding(checkup, parts, at):
    made.answer(checkup, "rest-volts", at, typed="11.2", unit="V"); swap(checkup, parts["battery"], at); made.finished(checkup, at); print("FINDINGS AFTER SWAP", Finding.objects.count())
def test_old_report(checkup, ownership, at):
    made.finished(checkup, at); make_report(checkup_id=checkup.pk, at=at+timedelta(days=900)); print("NOTICE 900 DAYS LATER", Notice.objects.filter(template="report_ready").count())
