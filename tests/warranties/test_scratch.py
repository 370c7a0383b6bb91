from datetime import date
from pathlib import Path

import pytest

from contractor.warranties import documents
from contractor.warranties.actions import certifying, transfers
from tests.warranties.factories import *


@pytest.mark.django_db
def test_x(cared_for, buyer, office, at, ruth, nora, theo, settings):
    settings.SITE_ADDRESS = "https://warranty.example.com"
    outside_record(cared_for.system, date(2025, 11, 2))
    from tests.factories import ComponentFactory

    for k in ("charger", "high_water_alarm", "check_valve", "discharge_line", "freeze_relief", "containment_ring"):
        ComponentFactory(system=cared_for.system, part_kind=k)
    ComponentFactory(system=cared_for.system, part_kind="battery", in_on=date(2024, 6, 1))
    Path("/tmp/wdoc.pdf").write_bytes(documents.warranty_pdf(cared_for))
    c = certifying.issue_certificate(warranty_id=cared_for.pk, on=date(2026, 5, 4), by=office, at=at)
    f = certifying.certificate_file(certificate_id=c.pk)
    Path("/tmp/wcert.pdf").write_bytes(f.read())
    checkup_done(cared_for.system, date(2026, 4, 20), theo, kind="transfer")
    t = transfers.ask_transfer(
        warranty_id=cared_for.pk,
        buyer_id=buyer.pk,
        closing_on=date(2026, 5, 1),
        notified_on=date(2026, 4, 20),
        by=office,
        at=at,
    )
    transfers.record_transfer_fee(transfer_id=t.pk, paid_on=date(2026, 5, 1), by=office, at=at)
    transfers.accept_transfer(transfer_id=t.pk, accepted_on=date(2026, 5, 1), name="Ben Okafor", by=office, at=at)
    c = transfers.issue_transfer(transfer_id=t.pk, on=date(2026, 5, 4), by=office, at=at)
    f = certifying.certificate_file(certificate_id=c.pk)
    Path("/tmp/wcert2.pdf").write_bytes(f.read())

    # many lines
    import copy

    from contractor.warranties.certificates import certificate_pdf
    from contractor.warranties.frozen_facts import freeze

    facts = copy.deepcopy(c.facts)
    for line in facts["promises"]:
        line.update(
            cover="in_force", share_today="58.33 %", share_note="falling evenly from September 14, 2025 to nothing"
        )
    facts["walls"] = [
        dict(facts["walls"][0], letter=l, name=n)
        for l, n in zip("ABCDEF", ["North wall", "East wall", "South wall", "West wall", "Garage side", "Stair wall"])
    ]
    facts["owner"]["name"] = "Maximilian Featherstonehaugh-Worthington and Alexandra Featherstonehaugh"
    facts["house"]["street_line"] = "12345 North Old Quarry Mill Road, Apartment 12"
    facts["open_claims"] = [{"part": "primary pump", "lost_on": "2026-04-30", "reported_on": "2026-05-01"}]
    facts["care_record"]["gap_days"] = 120
    facts["transfer"]["this"]["requirements"][1]["waived"] = True
    facts["supersedes"] = "7K3M-9QX2-C"
    Path("/tmp/wcert3.pdf").write_bytes(certificate_pdf(freeze(facts), facts))
