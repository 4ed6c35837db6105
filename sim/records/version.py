"""Which results this program gives."""

from __future__ import annotations

#: The same as long as the same case and seed give the same record and the same counts.
#: Raise it by one whenever they do not: runs that are kept on disk are then not mixed with
#: others.  ``tests/campaign/test_campaign_results.py`` fails until it has been raised.
RESULTS = 3
