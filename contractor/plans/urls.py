from django.urls import path

from contractor.plans import desk_views, offering_views, views

app_name = "plans"
urlpatterns = [
    path("", views.agreements, name="agreements"),
    path("<int:agreement_id>/", views.agreement, name="agreement"),
    path("<int:agreement_id>/cancel/", views.cancel, name="cancel"),
    path("<int:agreement_id>/renew/", views.renew, name="renew"),
    path("houses/<int:property_id>/new/", views.agree, name="agree"),
    path("houses/<int:property_id>/offer/", offering_views.offer_to_house, name="offer_to_house"),
    path("houses/<int:property_id>/take-over/", views.take_over, name="take_over"),
    path("invoices/<int:invoice_id>/invoice.pdf", views.invoice, name="invoice"),
    path("invoices/<int:invoice_id>/pay/", views.pay, name="pay"),
    path("payments/<int:payment_id>/take-back/", views.correct_payment, name="correct_payment"),
    path("offers/", desk_views.offers, name="offers"),
    path("offers/new/", desk_views.draft_offer, name="draft_offer"),
    path("offers/<int:offer_id>/", desk_views.offer, name="offer"),
    path("offers/<int:offer_id>/change/", desk_views.change_offer, name="change_offer"),
    path("renewal-rules/", desk_views.renewal_rules, name="renewal_rules"),
    path("renewal-rules/<str:state>/", desk_views.renewal_rule, name="renewal_rule"),
    path("revenue/", desk_views.revenue, name="revenue"),
    path("revenue/revenue.csv", desk_views.revenue_table, name="revenue_table"),
]
