"""Whether the service is alive and ready."""

from fastapi import APIRouter

from api.deps import Reading
from api.schemas.common import Health
from api.services.health import check_ready

router = APIRouter(tags=["health"])


@router.get(
    "/healthz",
    summary="Alive?",
    responses={200: {"content": {"application/json": {"example": {"status": "alive"}}}}},
)
async def healthz() -> Health:
    """Answer as long as the process runs."""
    return Health(status="alive")


@router.get(
    "/readyz",
    summary="Ready to serve?",
    responses={200: {"content": {"application/json": {"example": {"status": "ready", "revision": 77}}}}},
)
def readyz(call: Reading) -> Health:
    """Answer once the database can be read, with the catalogue's revision."""
    return Health(status="ready", revision=check_ready(call))
