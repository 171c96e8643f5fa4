"""How much of a full mix its parts have to explain, unless the settings say otherwise: the rule's own limit.

By itself, so that a scan that hears nothing loads nothing that adds stems up.
"""

from __future__ import annotations

from audit.rules.roster import mix_beside_parts

assert mix_beside_parts.limit is not None
FIT_ENOUGH = mix_beside_parts.limit.value
