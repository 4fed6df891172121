"""A job by what people call it: its id, or the name of its machine or the beginning of that."""

from collections.abc import Callable

from api.errors import InputFault, InvalidInputError, MissingError
from api.services.bench import JOBS, MACHINES
from api.services.call import Call
from api.services.exports import items
from api.services.resource import get_record


def find_job_id(call: Call, text: str) -> str:
    """Return the id of a job.

    Raises:
        MissingError: there is no such job.
        InvalidInputError: there are several.
    """
    if text.isascii() and text.isdigit():
        return str(get_record(call, JOBS, text).id)
    wanted = text.casefold().strip()
    names = {item["id"]: item["name"] for item in items(call, MACHINES, {})}

    def machines(matches: Callable[[str], bool]) -> set[str]:
        return {machine for machine, name in names.items() if matches(name.casefold())}

    meant = machines(lambda name: name == wanted) or machines(lambda name: name.startswith(wanted))
    found = [item for item in items(call, JOBS, {}) if item["machine_id"] in meant]
    if not found:
        raise MissingError("There is no job with this id, and none of a machine whose name begins so.")
    if len(found) > 1:
        raise InvalidInputError(
            "Several jobs are meant; name one by its id.",
            [
                InputFault(f"{names[item['machine_id']]}: {item['symptom']}", "path", item["id"])
                for item in found
            ],
        )
    return str(found[0]["id"])
