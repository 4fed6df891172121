"""Whether the database can be read."""

from api.services.call import Call
from db import records


def check_ready(call: Call) -> int:
    """Return the catalogue's revision, which takes a sound database."""
    return records.get_revision(call.session)
