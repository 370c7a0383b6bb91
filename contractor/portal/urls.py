from django.urls import path

from contractor.portal import claim_views, plan_views, terms_views, transfer_views, views

app_name = "portal"
urlpatterns = [
    path("home/", views.house, name="house"),
    path("home/ask/", views.ask_link, name="ask_link"),
    path("home/leave/", views.leave, name="leave"),
    path("home/link/<str:token>/", views.link, name="link"),
    path("home/check-ups/<int:checkup_id>/report.pdf", views.report, name="report"),
    path("home/warranties/<int:warranty_id>/warranty.pdf", views.warranty_document, name="warranty_document"),
    path("home/certificates/<int:certificate_id>/certificate.pdf", views.certificate, name="certificate"),
    path("home/systems/<int:system_id>/record/", views.outside_record, name="outside_record"),
    path("home/plan/", plan_views.plan_agree, name="plan_agree"),
    path("home/plan/<int:agreement_id>/cancel/", plan_views.plan_cancel, name="plan_cancel"),
    path("home/plan/<int:agreement_id>/renew/", plan_views.plan_renew, name="plan_renew"),
    path("home/plan/invoices/<int:invoice_id>/invoice.pdf", plan_views.plan_invoice, name="plan_invoice"),
    path("home/warranties/<int:warranty_id>/claim/", claim_views.report, name="report_claim"),
    path("home/claims/<int:claim_id>/", claim_views.claim, name="claim"),
    path("home/claims/<int:claim_id>/photos/<uuid:photo_id>/", claim_views.photo, name="claim_photo"),
    path("home/warranties/<int:warranty_id>/sale/", transfer_views.start_sale, name="start_sale"),
    path("home/warranties/<int:warranty_id>/accepted.pdf", transfer_views.own_acceptance, name="own_acceptance"),
    path("home/sale/link/<str:token>/", transfer_views.transfer_link, name="transfer_link"),
    path("home/sale/<int:transfer_id>/seller/", transfer_views.seller, name="transfer_seller"),
    path("home/sale/<int:transfer_id>/seller/day/", transfer_views.seller_moves_closing, name="seller_moves_closing"),
    path("home/sale/<int:transfer_id>/seller/call-off/", transfer_views.seller_withdraws, name="seller_withdraws"),
    path("home/sale/<int:transfer_id>/buyer/", transfer_views.buyer, name="transfer_buyer"),
    path("home/sale/<int:transfer_id>/buyer/document.pdf", transfer_views.buyer_document, name="buyer_document"),
    path("home/sale/<int:transfer_id>/buyer/accept/", transfer_views.buyer_accepts, name="buyer_accepts"),
    path("home/sale/<int:transfer_id>/buyer/paper/", transfer_views.buyer_signs_paper, name="buyer_signs_paper"),
    path("home/sale/<int:transfer_id>/buyer/take-back/", transfer_views.buyer_takes_back, name="buyer_takes_back"),
    path("home/sale/<int:transfer_id>/agent/", transfer_views.agent, name="transfer_agent"),
    path("terms/<str:token>/", terms_views.terms, name="terms"),
    path("terms/<str:token>/terms.pdf", terms_views.terms_document, name="terms_document"),
    path("check/", views.check, name="check"),
    path("check/file/", views.check_upload, name="check_upload"),
    path("check/<str:token>/", views.check_token, name="check_token"),
]
