app_name = "samples"

urlpatterns = []
