"""Outcomes teach the fit confidence: what was said is kept, and what happened moves what is said next."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import text

from api.schemas.bench import OutcomeIn
from api.services import resource
from api.services.bench import OUTCOMES
from api.services.call import Call
from api.services.knowledge import Knowledge

Problem = Callable[..., list[str]]
Body = dict[str, Any]
DAY = "2026-11-25"
REMOVED = {
    "family": "carburetor",
    "measured": {"throttle_bore": "19.0 mm", "bolt_spacing": "42.0 mm", "body_length": "62.0 mm"},
}
OTHER_SIZE = {"throttle_bore": "26.0 mm", "bolt_spacing": "52.0 mm", "body_length": "75.0 mm"}


@pytest.fixture
def part(bench: Any) -> Body:
    """A part that agrees with the removed one, beside some that do not."""
    made: Body = bench.part(stated_for=["Harrowmere H206"])
    for number in ("Q26-52", "Q26-53", "Q26-54"):
        bench.part(number, dimensions=OTHER_SIZE, stated_for=["Ostler 389"])
    bench.destination()
    return made


@pytest.fixture
def new_job(bench: Any) -> Callable[..., Body]:
    """A function that stores a job on a machine of its own."""

    def make(**removed: Any) -> Body:
        made: Body = bench.job(bench.machine(), removed_part=REMOVED | removed)
        return made

    return make


@pytest.fixture
def tell(bench: Any, new_job: Callable[..., Body]) -> Callable[..., Body]:
    """A function that says what happened to a part in a job of its own."""

    def say(part: Body, what: str = "did_not_fit", job: Body | None = None, **more: Any) -> Body:
        body = {"job_id": (job or new_job())["id"], "part_id": part["id"], "what": what, "on": DAY}
        made: Body = bench.post("outcomes", body | more)
        return made

    return say


def record(client: TestClient, **query: str) -> Body:
    response = client.get("/v1/reliability/fits", params=query)
    assert response.status_code == 200, response.text
    found: Body = response.json()
    return found


def ask(client: TestClient, **more: Any) -> Body:
    response = client.post("/v1/fits", json=REMOVED | more)
    assert response.status_code == 200, response.text
    found: Body = response.json()
    return found


def confidence(client: TestClient, **more: Any) -> float:
    return float(ask(client, **more)["fits"][0]["fit_confidence"])


def test_a_family_or_grade_that_is_not_there_is_refused(client: TestClient, problem_of: Problem) -> None:
    for query, place in (
        ({"family": "teapot"}, "family"),
        ({"grade": "fine"}, "grade"),
        ({"maker": "Quillon"}, "maker"),
    ):
        response = client.get("/v1/reliability/fits", params=query)
        assert problem_of(response, 422, "invalid-input") == [place]


def test_without_outcomes_the_priors_are_shown_and_nothing_is_judged(client: TestClient) -> None:
    found = record(client)
    assert (found["outcomes"], found["fitted"], found["bins"]) == (0, 0, [])
    assert not {"family", "grade", "scores"} & set(found)
    assert found["recalibration"]["shift"]["value"] == 0.0
    assert found["recalibration"]["slope"]["value"] == 1.0
    assert found["recalibration"]["unlisted_misfit"] == {"prior": 0.06, "value": 0.06}
    for figure in (found["recalibration"][name] for name in ("shift", "slope")):
        assert figure["standard_uncertainty"] == figure["prior"]["standard_uncertainty"]
    assert [one["kind"] for one in found["statements"]] == ["number", "interchange", "engine"]
    for one in found["statements"]:
        assert one["value"] == pytest.approx(one["prior"])
        assert one["interval_90"][0] < one["prior"] < one["interval_90"][1]
        assert one["spoke_for"] == 0


@pytest.mark.parametrize(
    ("what", "counted", "fitted"),
    [
        ("fitted", 1, 1),
        ("did_not_fit", 1, 0),
        ("dead_on_arrival", 1, 1),
        ("failed", 1, 1),
        ("still_running", 1, 1),
        ("returned", 0, 0),
    ],
)
def test_what_an_outcome_says_of_the_fit(
    client: TestClient, part: Body, tell: Callable[..., Body], what: str, counted: int, fitted: int
) -> None:
    tell(part, what)
    found = record(client)
    assert (found["outcomes"], found["fitted"]) == (counted, fitted)


def test_what_was_said_is_kept_as_it_was_before_anything_was_learned(
    client: TestClient, part: Body, tell: Callable[..., Body]
) -> None:
    said = confidence(client)
    for _ in range(4):
        tell(part)
    now = confidence(client)
    assert said - 0.1 < now < said - 0.02
    found = record(client, family="carburetor")
    assert found["family"] == "carburetor"
    assert found["bins"] == [found["bins"][0]]
    assert found["bins"][0]["count"] == 4
    assert found["bins"][0]["said"] == pytest.approx(said, abs=1e-6)
    assert found["bins"][0]["happened"] == 0.0
    assert found["bins"][0]["happened_90"][1] > 0.1
    assert found["recalibration"]["shift"]["value"] < 0.0
    assert found["scores"]["after"]["log_loss"] < found["scores"]["before"]["log_loss"]
    assert found["recalibration"]["unlisted_misfit"]["value"] > 0.06


def test_the_shift_shows_among_the_evidence_and_fits_speak_for_it_too(
    client: TestClient, part: Body, tell: Callable[..., Body]
) -> None:
    always = ["before_measuring", "not_recorded"]
    assert [item["kind"] for item in ask(client)["fits"][0]["evidence"]] == always
    for _ in range(3):
        tell(part, "fitted")
    before = ask(client)["fits"][0]
    assert [item["kind"] for item in before["evidence"]] == [*always, "outcomes"]
    assert before["evidence"][-1]["weight"] > 0.0
    page = client.get("/", params={"family": "carburetor", **REMOVED["measured"]})  # type: ignore[dict-item]
    assert "What happened to parts tried before speaks for it." in page.text


def test_a_deleted_outcome_teaches_nothing_until_it_is_restored(
    client: TestClient, part: Body, tell: Callable[..., Body]
) -> None:
    said = confidence(client)
    outcome = tell(part)
    taught = confidence(client)
    assert taught < said
    one = f"/v1/outcomes/{outcome['id']}"
    assert client.delete(one, headers={"If-Match": "*"}).status_code == 204
    assert record(client)["outcomes"] == 0
    assert confidence(client) == said
    assert client.post(f"{one}/restore").status_code == 200
    assert confidence(client) == taught


def test_an_edit_changes_what_happened_but_not_what_was_said(
    client: TestClient, bench: Any, part: Body, tell: Callable[..., Body]
) -> None:
    outcome = tell(part)
    said = record(client)["bins"][0]["said"]
    # By now the file knows more, and would say something else.
    bench.part("Q19-43", dimensions={"throttle_bore": "19.0 mm", "bolt_spacing": "42.0 mm"})
    one = f"/v1/outcomes/{outcome['id']}"
    edited = client.patch(one, json={"what": "fitted"}, headers={"If-Match": "*"})
    assert edited.status_code == 200
    found = record(client)
    assert (found["fitted"], found["bins"][0]["said"]) == (1, said)
    moved = client.patch(one, json={"part_id": "2"}, headers={"If-Match": "*"})
    assert moved.status_code == 200
    found = record(client)
    assert found["outcomes"] == 1
    assert found["bins"][0]["said"] < 0.1


def test_an_outcome_that_no_longer_says_which_part_teaches_nothing(
    client: TestClient, part: Body, tell: Callable[..., Body]
) -> None:
    outcome = tell(part)
    one = f"/v1/outcomes/{outcome['id']}"
    assert client.patch(one, json={"part_id": None}, headers={"If-Match": "*"}).status_code == 200
    assert record(client)["outcomes"] == 0


def test_several_outcomes_of_one_part_in_one_job_count_once_and_the_last_corrects(
    client: TestClient, part: Body, new_job: Callable[..., Body], tell: Callable[..., Body]
) -> None:
    job = new_job()
    tell(part, "did_not_fit", job, on="2026-11-24")
    tell(part, "fitted", job, on="2026-11-25")
    tell(part, "failed", job, on="2026-11-25")
    tell(part, "did_not_fit", job, on="2026-11-01")
    found = record(client)
    assert (found["outcomes"], found["fitted"]) == (1, 1)


def test_the_part_is_known_by_its_quote_too(
    client: TestClient, bench: Any, part: Body, tell: Callable[..., Body]
) -> None:
    quote = bench.quote(part, bench.supplier())
    tell(part, quote_id=quote["id"], part_id=None)
    tell(part, quote_id=quote["id"])
    assert record(client)["outcomes"] == 2


def test_where_nothing_can_be_said_the_outcome_stands_without_a_forecast(
    client: TestClient, bench: Any, part: Body, tell: Callable[..., Body], new_job: Callable[..., Body]
) -> None:
    quote = bench.quote(part, bench.supplier())
    other, plug = bench.part("Q19-44"), bench.part("V-7", family="spark_plug", dimensions={})
    tell(other, quote_id=quote["id"])  # which of the two was tried?
    tell(plug)  # bought for the same job, and not in place of the removed part
    tell(part, job=bench.job(bench.machine(), removed_part=None))
    tell(part, job=new_job(measured={}))  # nothing is known of the removed part
    bench.post("outcomes", {"part_id": part["id"], "what": "fitted", "on": DAY})  # in no job
    assert len(client.get("/v1/outcomes").json()["items"]) == 5
    assert record(client)["outcomes"] == 0


def test_a_removed_part_that_its_family_no_longer_reads_is_no_obstacle(
    client: TestClient, part: Body, new_job: Callable[..., Body], tell: Callable[..., Body]
) -> None:
    job = new_job()
    writers = client.app.state.writers  # type: ignore[attr-defined]
    with writers.begin() as session:
        session.execute(
            text("UPDATE job SET removed_part = :part WHERE id = :id"),
            {"part": '{"family": "carburetor", "measured": {"horn_width": "3 mm"}}', "id": job["id"]},
        )
    tell(part, job=job)
    assert record(client)["outcomes"] == 0


def test_statements_that_proved_wrong_weigh_less(
    client: TestClient, bench: Any, part: Body, tell: Callable[..., Body], new_job: Callable[..., Body]
) -> None:
    # Only the engine tells the stated part from its neighbour, which lists the same sizes.
    bench.part(
        "B19-42", maker="Brackwell", dimensions={"throttle_bore": "19.0 mm"}, stated_for=["Ostler 389"]
    )
    known = {"measured": {"throttle_bore": "19.0 mm"}, "engine": "Harrowmere H206"}

    def weight() -> float:
        fit = ask(client, **known)["fits"][0]
        assert fit["part"]["id"] == part["id"]
        return float(next(item["weight"] for item in fit["evidence"] if item["kind"] == "engine"))

    before = weight()
    assert before > 0.0
    for _ in range(8):
        tell(part, job=new_job(**known))
    assert weight() < before
    found = {one["kind"]: one for one in record(client, family="carburetor")["statements"]}
    assert (found["engine"]["spoke_for"], found["engine"]["fitted"]) == (8, 0)
    assert found["engine"]["value"] < found["engine"]["prior"]
    assert found["engine"]["interval_90"][0] < found["engine"]["value"] < found["engine"]["interval_90"][1]
    assert found["number"]["value"] == pytest.approx(found["number"]["prior"])


def test_a_family_without_outcomes_borrows_from_the_others(
    client: TestClient, bench: Any, part: Body, tell: Callable[..., Body]
) -> None:
    for _ in range(5):
        tell(part)
    plug = record(client, family="spark_plug")
    assert (plug["outcomes"], plug["bins"]) == (0, [])
    assert (plug["recalibration"]["outcomes"], plug["recalibration"]["borrowed"]) == (0, 5)
    own = record(client, family="carburetor")["recalibration"]["shift"]
    assert own["value"] < plug["recalibration"]["shift"]["value"] < 0.0
    assert own["standard_uncertainty"] < plug["recalibration"]["shift"]["standard_uncertainty"]


def test_a_grade_has_a_record_of_its_own_and_the_ranges_come_as_a_table(
    client: TestClient, bench: Any, part: Body, tell: Callable[..., Body]
) -> None:
    maker_part = bench.part("708-21B", maker="Harrowmere", grade="oem")
    tell(part)
    tell(maker_part, "fitted")
    assert record(client, grade="oem")["fitted"] == 1
    assert record(client, grade="oem")["outcomes"] == 1
    assert record(client, grade="aftermarket_unbranded")["fitted"] == 0
    assert record(client, grade="used")["outcomes"] == 0
    lines = client.get("/v1/reliability/fits?format=csv").text.splitlines()
    assert lines[0] == "from,to,count,said,happened,happened_90_low,happened_90_high"
    assert len(lines) == 1 + len(record(client)["bins"])
    cell = client.get("/v1/reliability/fits?format=value&field=/outcomes").text
    assert cell == "2"


def test_a_comparison_reckons_with_what_was_learned_and_says_so(
    client: TestClient, bench: Any, part: Body, tell: Callable[..., Body], new_job: Callable[..., Body]
) -> None:
    bench.quote(part, bench.supplier())
    job = new_job()

    def compare(**more: Any) -> tuple[float, tuple[float, str]]:
        answer = client.post("/v1/comparisons", json={"job_id": job["id"], **more}).json()
        option = next(one for one in answer["options"] if one["id"] == "replace:1")
        misfit = next(one for one in answer["assumptions"] if one["name"] == "unlisted_misfit")
        return option["fit_confidence"], (misfit["value"], misfit["origin"])

    said, assumed = compare()
    assert assumed == (0.06, "default")
    for _ in range(4):
        tell(part)
    now, learned = compare()
    assert now < said - 0.02
    assert now == pytest.approx(confidence(client, limit=60), abs=1e-6)
    assert learned[0] > 0.06
    assert learned[1] == "outcomes"
    assert compare(assumptions={"unlisted_misfit": 0.04})[1] == (0.04, "job")


def test_an_outcome_that_is_taken_back_leaves_the_catalogue_in_step(
    client: TestClient, part: Body, bench: Any, new_job: Callable[..., Body], knowledge: Knowledge
) -> None:
    # The catalogue is read while the outcome is being written. When that is taken back, the next change
    # counts to the same revision once more, and must not be missed.
    state = client.app.state  # type: ignore[attr-defined]
    outcome = OutcomeIn.model_validate(
        {"job_id": new_job()["id"], "part_id": part["id"], "what": "fitted", "on": DAY}
    )
    with state.writers() as session:
        resource.create(Call(session, datetime.now(UTC), "local", knowledge, state.fits), OUTCOMES, outcome)
        session.rollback()
    assert record(client)["outcomes"] == 0
    bench.part("Q19-45")
    assert len(ask(client)["fits"]) == 5


def test_both_databases_learn_alike(either_client: TestClient) -> None:
    bench_of = either_client.post
    part = {
        "family": "carburetor",
        "maker": "Quillon",
        "number": "Q19-42",
        "grade": "aftermarket_unbranded",
        "dimensions": REMOVED["measured"],
    }
    assert bench_of("/v1/parts", json=part).status_code == 201
    machine = {
        "name": "TL-07 tiller",
        "worth_running": {"amount": "190.00", "currency": "USD"},
        "worth_as_is": {"amount": "35.00", "currency": "USD"},
    }
    assert bench_of("/v1/machines", json=machine).status_code == 201
    job = {"machine_id": "1", "currency": "USD", "removed_part": {**REMOVED, "marking": "Q19-4?"}}
    assert bench_of("/v1/jobs", json=job).status_code == 201
    said = confidence(either_client, marking="Q19-4?")
    outcome = {"job_id": "1", "part_id": "1", "what": "did_not_fit", "on": DAY}
    made = bench_of("/v1/outcomes", json=outcome)
    assert made.status_code == 201
    assert confidence(either_client, marking="Q19-4?") < said
    assert record(either_client)["bins"][0]["said"] == pytest.approx(said, abs=1e-6)
