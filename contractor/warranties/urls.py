from django.urls import path

from contractor.warranties.views import claims, terms, transfers, warranties

app_name = "warranties"
urlpatterns = [
    path("terms/", terms.terms, name="terms"),
    path("terms/new/", terms.draft_terms, name="draft_terms"),
    path("terms/<int:terms_id>/", terms.terms_edition, name="terms_edition"),
    path("terms/<int:terms_id>/change/", terms.change_terms, name="change_terms"),
    path("issue/<int:system_id>/", warranties.issue, name="issue"),
    path("<int:warranty_id>/", warranties.warranty, name="warranty"),
    path("<int:warranty_id>/warranty.pdf", warranties.document, name="document"),
    path("<int:warranty_id>/void/", warranties.void, name="void"),
    path("<int:warranty_id>/waive/", warranties.waive, name="waive"),
    path("<int:warranty_id>/certificate/", warranties.issue_certificate, name="issue_certificate"),
    path("certificates/<int:certificate_id>/certificate.pdf", warranties.certificate, name="certificate"),
    path("claims/", claims.claims, name="claims"),
    path("<int:warranty_id>/claims/new/", claims.report_claim, name="report_claim"),
    path("claims/<int:claim_id>/", claims.claim, name="claim"),
    path("claims/<int:claim_id>/withdraw/", claims.withdraw_claim, name="withdraw_claim"),
    path("transfers/", transfers.transfers, name="transfers"),
    path("<int:warranty_id>/transfers/new/", transfers.ask_transfer, name="ask_transfer"),
    path("transfers/<int:transfer_id>/", transfers.transfer, name="transfer"),
    path("transfers/<int:transfer_id>/fee/", transfers.fee, name="transfer_fee"),
    path("transfers/<int:transfer_id>/accepted/", transfers.accept, name="transfer_accepted"),
    path("transfers/<int:transfer_id>/let-go/", transfers.let_go, name="transfer_let_go"),
    path("transfers/<int:transfer_id>/issue/", transfers.issue_transfer, name="issue_transfer"),
    path("transfers/<int:transfer_id>/withdraw/", transfers.withdraw_transfer, name="withdraw_transfer"),
    path("transfers/<int:transfer_id>/revoke/", transfers.revoke_transfer, name="revoke_transfer"),
]
