"""What the views of this app share: masks in the context, and records that are only amended."""

from __future__ import annotations

from typing import Any

from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _
from drf_spectacular.utils import extend_schema
from rest_framework.response import Response

from labsite.api.schema import RefusalSerializer
from labsite.errors import Conflict
from samples.selectors.blindness import blind_lots


class Masking:
    """Puts the lots to which the caller is blind into the serializers' context, when asked for."""

    def get_serializer_context(self) -> dict[str, Any]:
        person = self.request.user if self.request else None
        blind = SimpleLazyObject(lambda: blind_lots(person))
        return {**super().get_serializer_context(), "blind": blind}


class AmendedOnly:
    """A record that is never changed in place: PATCH is told what to do instead."""

    @extend_schema(request=None, responses={409: RefusalSerializer})
    def patch(self, request: Any, *args: Any, **kwargs: Any) -> Response:
        self.get_object()
        raise Conflict("amend_instead", _("This is not changed in place. Amend it instead."))
