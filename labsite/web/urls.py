app_name = "web"

urlpatterns = []
