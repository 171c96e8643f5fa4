"""Which of the settings' set lists a scan is for."""

from __future__ import annotations

from audit.errors import UsageError
from audit.settings.mistakes import clean, either, offer
from audit.settings.model import SetList, ShowSettings
from audit.settings.patterns import plain


def choose_set(settings: ShowSettings, wanted: str | None) -> SetList | None:
    """The set list of that name; without a name the settings' own, or their only one, else None.

    Raises UsageError where there is none of that name.
    """
    asked = settings.default_set if wanted is None else wanted
    if asked is None:
        return settings.sets[0] if len(settings.sets) == 1 else None
    for each in settings.sets:
        if plain(each.name) == plain(asked):
            return each
    names = [each.name for each in settings.sets]
    known = (
        f"the settings have {either(clean(name) for name in names)}" if names else "the settings have none"
    )
    near = offer(asked, names)
    raise UsageError(
        f"--set {clean(asked)}: no set list has this name, and there is no such file; {near}{known}"
    )
