"""Numbers in memory: they follow every change of what is on file, reading only what changed."""

from typing import Any

from fastapi.testclient import TestClient

from api.database import open_call
from api.services import numbers
from api.services.fits import FitService
from api.services.held_numbers import HeldNumbers

EDITED = {"If-Match": "*"}
PART = {"family": "carburetor", "maker": "Ostler", "number": "708-21B", "grade": "oem"}


def like(client: TestClient, worn: str, **more: Any) -> list[tuple[str, str]]:
    found = client.get("/v1/numbers", params={"like": worn} | more).json()["items"]
    return [(item["number"], item["part_id"]) for item in found]


def test_the_look_up_follows_edits_deletions_and_restorations(either_client: TestClient) -> None:
    client = either_client
    part = client.post("/v1/parts", json=PART).json()
    at = f"/v1/parts/{part['id']}"
    assert like(client, "7?8-21B") == [("708-21B", part["id"])]
    client.patch(at, json={"number": "388-60", "other_numbers": ["711-04"]}, headers=EDITED)
    assert like(client, "7?8-21B") == []
    assert like(client, "711 O4") == [("711-04", part["id"])]
    client.delete(at, headers=EDITED)
    assert like(client, "388-60") == []
    assert client.post(f"{at}/restore", headers=EDITED).status_code == 200
    assert like(client, "388-60") == [("388-60", part["id"])]


def test_numbers_of_all_families_stand_in_one_order(client: TestClient, bench: Any) -> None:
    kit = bench.part("708-21", family="rebuild_kit", dimensions={})
    near, exact = bench.part("718-21"), bench.part("708-21", other_numbers=["70821"])
    found = like(client, "708-21", limit=3)
    assert found == [("708-21", kit["id"]), ("708-21", exact["id"]), ("70821", exact["id"])]
    assert like(client, "708-21", family="carburetor")[-1] == ("718-21", near["id"])


def test_what_a_call_does_not_see_yet_is_not_shown(store: Any) -> None:
    # The numbers in memory may be ahead of a call that began before the last change.
    fits = FitService()
    with open_call(store.database.readers, store.knowledge) as early:
        assert numbers.list_like(early, fits, "708-21B", "carburetor", 5) == []
        store.create("parts", PART)
        with open_call(store.database.readers, store.knowledge) as late:
            assert len(numbers.list_like(late, fits, "708-21B", "carburetor", 5)) == 1
        assert numbers.list_like(early, fits, "708-21B", "carburetor", 5) == []


def test_only_what_changed_is_read_again(store: Any) -> None:
    held = HeldNumbers()
    for number in ("708-21B", "388-60"):
        store.create("parts", PART | {"number": number})
    first = store.revision()
    with open_call(store.database.readers, store.knowledge) as call:
        index = held.caught_up(call, "carburetor", first)
        assert len(index.like("708-21B", 5)) == len(index.like("388-60", 5)) == 1
        # Forgotten on purpose: it comes back only if it is read again.
        index.remove([1])
    store.create("parts", PART | {"number": "711-04"})
    with open_call(store.database.readers, store.knowledge) as call:
        assert held.caught_up(call, "carburetor", first).like("711-04", 5) == []
        assert held.caught_up(call, "carburetor", store.revision()) is index
        assert [len(index.like(worn, 5)) for worn in ("708-21B", "388-60", "711-04")] == [0, 1, 1]
