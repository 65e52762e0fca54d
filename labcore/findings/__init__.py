"""From measures to sentences: what was heard, one praise, one thing to work on.

Thresholds stand in `bands`, sentences in `words`, the rules in `rules`, in order of importance.
"""

from labcore.findings.choice import Choice, choose, describe
from labcore.findings.landing import landing
from labcore.findings.rules import find
from labcore.findings.switching import switch_findings

__all__ = ["Choice", "choose", "describe", "find", "landing", "switch_findings"]
