"""What is connected at present: contacts and joints as they close and open in a run."""

from __future__ import annotations

from collections.abc import Sequence

from sim.layout.model import Layout
from sim.run.agenda import Once
from sim.run.recorder import Recorder
from sim.run.supply import SupplyModel


class Connections:
    """The one place that contacts change in: told to the record and to the supply."""

    def __init__(
        self, recorder: Recorder, layout: Layout, supply: SupplyModel, solution: Once
    ) -> None:
        self._recorder, self._elements = recorder, layout.elements
        self._supply, self._solution = supply, solution

    def change(self, closed: Sequence[int], opened: Sequence[int]) -> None:
        """Contacts have just closed, and just opened."""
        for e in closed:
            self._recorder.changed("contact", self._elements[e].id, "closed")
        for e in opened:
            self._recorder.changed("contact", self._elements[e].id, "open")
        if closed or opened:
            self._supply.set_contacts(closed, opened)
            self._solution.request()
