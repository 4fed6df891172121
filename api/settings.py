"""Settings: environment variables with the prefix FITWORTH_, listed by `fitworth show-settings`."""

import os
import sys
from functools import cache
from pathlib import Path

from pydantic import Field
from pydantic_settings import BaseSettings, SettingsConfigDict


def user_data_folder() -> Path:
    """Return the folder where this system keeps a user's own data."""
    home = Path.home()
    if sys.platform == "win32":  # pragma: no cover - another system
        return Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local")) / "Fitworth"
    if sys.platform == "darwin":  # pragma: no cover - another system
        return home / "Library" / "Application Support" / "Fitworth"
    return Path(os.environ.get("XDG_DATA_HOME") or home / ".local" / "share") / "fitworth"


def default_database_url() -> str:
    """Return the URL of the SQLite file in the user's data folder."""
    return f"sqlite:///{user_data_folder() / 'fitworth.sqlite'}"


class Settings(BaseSettings):
    """Everything that can be set from outside."""

    model_config = SettingsConfigDict(env_prefix="FITWORTH_", extra="forbid", frozen=True)

    database_url: str = Field(
        default_factory=default_database_url,
        description="Where the data lies: a SQLite file, or postgresql://user@host/name.",
    )
    families_dir: Path | None = Field(
        default=None, description="A folder with your own family files (*.toml) beside the built-in ones."
    )
    host: str = Field(default="127.0.0.1", description="The address to serve on; only loopback is allowed.")
    port: int = Field(default=8000, ge=1, le=65535, description="The port to serve on.")
    workers: int = Field(default=1, ge=1, le=64, description="Server processes.")
    json_limit_bytes: int = Field(default=1_048_576, ge=1024, description="The largest JSON body accepted.")
    log_level: str = Field(
        default="info", pattern="^(debug|info|warning|error)$", description="How much is logged."
    )


@cache
def get_settings() -> Settings:
    """Return the settings of this process, read once."""
    return Settings()
