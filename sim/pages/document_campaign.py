"""The document of a campaign: that of its comparison, and what many runs add."""

from __future__ import annotations

from collections.abc import Sequence

from sim.campaign.model import Campaign, RunShare, Swing, Trouble
from sim.judge.stats import Interval
from sim.pages.document_compare import compare_document
from sim.pages.documents import Asked, Document


def campaign_document(asked: Asked, campaign: Campaign) -> Document:
    """Everything that :func:`compare_document` has, then whole runs and assumptions."""
    return {
        **compare_document(asked, campaign.comparison),
        "runs_asked": campaign.asked,
        "until_width": campaign.until_width,
        "width": campaign.width,
        "run_shares": [_share(s) for s in campaign.shares],
        "ranking": _ranking(campaign.ranking),
        "sensitivity": [_swing(s) for s in campaign.swings],
    }


def _share(share: RunShare) -> Document:
    return {
        "case": share.case,
        "runs": share.runs,
        "stalled_runs": share.stalled,
        "wilson": _interval(share.wilson),
        "clopper_pearson": _interval(share.exact),
    }


def _interval(found: Interval | None) -> list[float] | None:
    return None if found is None else [found.low, found.high]


def _ranking(ranking: Sequence[Trouble]) -> list[Document]:
    return [{"case": t.case, "trouble_per_run": t.per_run} for t in ranking]


def _swing(swing: Swing) -> Document:
    band = swing.band
    return {
        "assumption": band.field,
        "what": band.what,
        "value": band.value,
        "low": band.low,
        "high": band.high,
        "whose": band.whose,
        "runs": swing.runs,
        "ranking": _ranking(swing.own),
        "ends": [
            {
                "value": end.value,
                "ranking": _ranking(end.ranking),
                "changes_choice": end.changes,
            }
            for end in swing.ends
        ],
        "changes_choice": swing.changes,
    }
