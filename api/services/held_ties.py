"""What is stated and decided about the parts of each family, put into the catalogues that are in memory."""

from api.services.call import Call
from api.services.interchange import statement_of
from db import interchange as stored
from fitworth.matching.catalogue import Catalogue
from fitworth.matching.interchange import ties_of_parts
from fitworth.matching.parameters import FitModel


class HeldTies:
    """Remembers up to which statement or decision each catalogue is. It has no lock of its own."""

    def __init__(self) -> None:
        self._revisions: dict[str, int] = {}

    def put_into(self, catalogue: Catalogue, call: Call, *, parts_changed: bool) -> None:
        """Put what a call sees into a catalogue, where a statement, a decision or a part has changed.

        Statements count with the usual share of those that prove true, not with the one that outcomes have
        taught: the groups would have to be estimated anew with every outcome.

        Args:
            catalogue: with the parts already.
            call: the request's surroundings.
            parts_changed: whether some part has, so that numbers may have.
        """
        family = catalogue.family.key
        last = stored.get_last_revision(call.session)
        if last == 0 or (last == self._revisions.get(family) and not parts_changed):
            return
        statements = stored.list_linking(call.session, family)
        bearers: dict[str, list[int]] = {}
        numbers = {number for row in statements for number in (row.from_key, row.to_key)}
        for bearer in stored.list_bearers(call.session, numbers, family=family):
            bearers.setdefault(bearer.number_key, []).append(bearer.part_id)
        ties = ties_of_parts(map(statement_of, statements), bearers, FitModel().interchange_truth)
        catalogue.tie(ties, stored.list_rejected(call.session, family))
        self._revisions[family] = last
