"""The stores."""

from django.urls import path

from builds.views import stores

__all__ = ["urlpatterns"]

urlpatterns = [
    path("stores/", stores.stores, name="stores"),
    path("stores/list/", stores.part_list_upload, name="part-list-upload"),
    path("stores/parts/<path:number>/receive/", stores.part_receive, name="part-receive"),
    path("stores/parts/<path:number>/count/", stores.part_count, name="part-count"),
    path("stores/parts/<path:number>/", stores.part_detail, name="part-detail"),
]
