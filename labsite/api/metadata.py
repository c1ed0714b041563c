"""What OPTIONS answers: name, description and types; the OpenAPI document tells the rest."""

from __future__ import annotations

from typing import Any

from rest_framework.metadata import SimpleMetadata


class PlainMetadata(SimpleMetadata):
    def determine_actions(self, request: Any, view: Any) -> dict[str, Any]:
        """None: DRF's own way asks for the permission to write, and a refusal is an entry here."""
        return {}
