"""Queries about jobs."""

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from db.models import Job
from db.records import is_id


def find_job(session: Session, job_id: int) -> Job | None:
    """Return a job with its machine and destination loaded, or None where there is none or it was deleted."""
    found = list_jobs(session, [job_id])
    return found[0] if found else None


def list_jobs(session: Session, job_ids: Sequence[int]) -> list[Job]:
    """List the jobs with these ids in the order of the ids, with their machines and destinations loaded."""
    query = (
        select(Job)
        .options(joinedload(Job.machine), joinedload(Job.destination))
        .where(Job.id.in_([job_id for job_id in job_ids if is_id(job_id)]), Job.deleted_at.is_(None))
        .order_by(Job.id)
        .execution_options(populate_existing=True)
    )
    return list(session.scalars(query))
