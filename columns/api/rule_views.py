"""The lab's rules and people's repeatability."""

from __future__ import annotations

from typing import Any

from columns.api import inputs, serializers
from columns.models import LabRules, ReaderRepeatability
from columns.selectors.rules import lab_rules
from columns.services import rules
from labsite.accounts.roles import Action
from labsite.api.views import ChangeableRecordView, ListCreateView


class RulesView(ChangeableRecordView):
    """The rules in force now. PATCH changes them from now on."""

    queryset = LabRules.objects.all()
    serializer_class = serializers.RulesSerializer
    change_class = inputs.RulesChange
    required_action = {"GET": Action.VIEW_LAB, "PATCH": Action.MANAGE_RULES}

    def get_object(self) -> LabRules:
        return lab_rules()

    def change(self, actor: Any, record: LabRules, data: dict[str, Any]) -> LabRules:
        return rules.change_lab_rules(actor=actor, rules=record, **data)


class RepeatabilitiesView(ListCreateView):
    """How well each person repeats a height. POST records it, or changes it."""

    queryset = ReaderRepeatability.objects.select_related("person")
    serializer_class = serializers.RepeatabilitySerializer
    input_class = inputs.RepeatabilityInput
    filterset_fields = ("person",)
    required_action = {"GET": Action.VIEW_LAB, "POST": Action.MANAGE_RULES}

    def create(self, actor: Any, data: dict[str, Any]) -> ReaderRepeatability:
        return rules.set_reader_repeatability(actor=actor, **data)
