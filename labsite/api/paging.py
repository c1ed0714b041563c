"""Cursor paging: stable while rows are added, as fast at the end as at the start."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from rest_framework.exceptions import NotFound
from rest_framework.pagination import CursorPagination


class LabCursorPagination(CursorPagination):
    ordering = ("-created_at", "-id")
    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200

    def paginate_queryset(self, queryset: Any, request: Any, view: Any = None) -> Any:
        """A made-up cursor can hold anything, such as a word where the rows have a number."""
        try:
            return super().paginate_queryset(queryset, request, view)
        except (ValueError, ValidationError) as error:
            if self.cursor_query_param not in request.query_params:
                raise
            raise NotFound(self.invalid_cursor_message) from error
