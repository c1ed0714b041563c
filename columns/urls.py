app_name = "columns"

urlpatterns = []
