from contractor.warranties import documents
from contractor.warranties.actions import certifying, transfers
from datetime import date
from pathlib import Path
import pytest
from tests.warranties.factories import *
@pytest.mark.django_db
def test_x(cared_for, buyer, office, at, ruth, nora, theo, settings):
    settings.SITE_ADDRESS="https://warranty.example.com"
    outside_record(cared_for.system, date(2025,11,2))
    from tests.factories import ComponentFactory
    for k in ("charger","high_water_alarm","check_valve","discharge_line","freeze_relief","containment_ring"): ComponentFactory(system=cared_for.system, part_kind=k)
    ComponentFactory(system=cared_for.system, part_kind="battery", in_on=date(2024,6,1))
    Path("/tmp/wdoc.pdf").write_bytes(documents.warranty_pdf(cared_for))
    c = certifying.issue_certificate(warranty_id=cared_for.pk, on=date(2026,5,4), by=office, at=at)
    f = certifying.certificate_file(certificate_id=c.pk)
    Path("/tmp/wcert.pdf").write_bytes(f.read())
    checkup_done(cared_for.system, date(2026,4,20), theo, kind="transfer")
    t = transfers.ask_transfer(warranty_id=cared_for.pk, buyer_id=buyer.pk, closing_on=date(2026,5,1), notified_on=date(2026,4,20), by=office, at=at)
    transfers.record_transfer_fee(transfer_id=t.pk, paid_on=date(2026,5,1), by=office, at=at)
    transfers.accept_transfer(transfer_id=t.pk, accepted_on=date(2026,5,1), name="Ben Okafor", by=office, at=at)
    c = transfers.issue_transfer(transfer_id=t.pk, on=date(2026,5,4), by=office, at=at)
    f = certifying.certificate_file(certificate_id=c.pk)
    Path("/tmp/wcert2.pdf").write_bytes(f.read())
