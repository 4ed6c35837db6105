"""What can stop a campaign."""

from __future__ import annotations


class CampaignError(Exception):
    """The campaign cannot go on. The message says what was expected, and what was found."""
