"""The table of checks, in the order findings are told; every one runs, whatever the others find."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from records.domain.findings import Finding
from records.domain.visit import Visit
from records.rules.advance_checks import check_advance
from records.rules.ceiling_checks import check_ceilings
from records.rules.context import Context
from records.rules.drift_checks import check_drift, check_station
from records.rules.label_checks import check_label, check_targets
from records.rules.mix_checks import check_loads, check_lots
from records.rules.nutrient_checks import check_nutrients
from records.rules.partner_checks import check_partners
from records.rules.people_checks import check_category, check_licences, check_supervision
from records.rules.plausibility import (
    check_area,
    check_groups,
    check_late,
    check_place,
    check_same_day,
    check_times,
    check_unlikely,
)
from records.rules.required import check_required, check_targets_told
from records.rules.trial_checks import check_plots
from records.rules.weather_checks import check_weather, check_weather_age, check_weather_likely

Check = Callable[[Visit, Context], Iterable[Finding]]

CHECKS: tuple[Check, ...] = (
    check_required,
    check_targets_told,
    check_times,
    check_place,
    check_licences,
    check_supervision,
    check_category,
    check_label,
    check_targets,
    check_partners,
    check_weather,
    check_weather_age,
    check_weather_likely,
    check_station,
    check_drift,
    check_area,
    check_loads,
    check_lots,
    check_plots,
    check_ceilings,
    check_nutrients,
    check_unlikely,
    check_same_day,
    check_advance,
    check_groups,
    check_late,
)


def evaluate(visit: Visit, context: Context) -> list[Finding]:
    """Run every check over a visit.

    Args:
        visit: as far as it could be understood; checks pass over what is absent, `missing` says that it is.
        context: the moment, the site's past and look-ups.

    Returns:
        All findings, in the order of the table.
    """
    return [finding for check in CHECKS for finding in check(visit, context)]
