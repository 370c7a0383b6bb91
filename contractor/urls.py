"""Where every room hangs its door."""

from django.urls import include, path

urlpatterns = [
    path("", include("contractor.accounts.urls")),
    path("office/", include("contractor.office.urls")),
    path("houses/", include("contractor.properties.urls")),
    path("systems/", include("contractor.systems.urls")),
    path("visits/", include("contractor.visits.urls")),
    path("checkups/", include("contractor.checkups.urls")),
    path("estimates/", include("contractor.estimates.urls")),
    path("plans/", include("contractor.plans.urls")),
    path("warranties/", include("contractor.warranties.urls")),
    path("tablet/", include("contractor.tablet.urls")),
    path("notices/", include("contractor.notices.urls")),
    path("", include("contractor.portal.urls")),
]

handler404 = "contractor.accounts.views.not_found"
handler403 = "contractor.accounts.views.not_allowed"
handler500 = "contractor.accounts.views.something_broke"
