"""Pages of the equipment and of the work on columns."""

from __future__ import annotations

from django.urls import path

from columns.views import equipment, float_sets, floats, work

app_name = "columns"

urlpatterns = [
    path("jobs/", work.JobsPage.as_view(), name="jobs"),
    path("jobs/<uuid:pk>/", work.ColumnWorkPage.as_view(), name="work"),
    path("equipment/", equipment.EquipmentPage.as_view(), name="equipment"),
    path("float-set/", float_sets.ChooseColumnPage.as_view(), name="float-set"),
    path("float-set/<uuid:pk>/", float_sets.FloatSetPage.as_view(), name="float-set"),
    path(
        "float-set/amend/<uuid:pk>/", float_sets.AmendFloatSetPage.as_view(), name="float-set-amend"
    ),
    path("floats/", floats.FloatListPage.as_view(), name="float-list"),
    path("floats/<uuid:pk>/", floats.FloatPage.as_view(), name="float-detail"),
]
