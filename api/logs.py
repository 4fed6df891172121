"""How the service logs: one line of JSON an event, to standard error, without the values of variables."""

import logging
import sys

import structlog


def configure(level: str) -> None:
    """Log from this level up; a traceback is text without the frames' variables, which may hold entries."""
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso", utc=True),
            structlog.processors.format_exc_info,
            structlog.processors.JSONRenderer(),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(logging.getLevelNamesMapping()[level.upper()]),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
        cache_logger_on_first_use=False,
    )
