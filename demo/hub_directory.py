"""Prepares a configuration directory in which Home Assistant starts without questions.

The files of `.storage` are seeded as Home Assistant itself would have written them
after its onboarding: an owner, a port on the loopback address only, and a long-lived
token for its client.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
import json
from pathlib import Path
import secrets
import shutil
from typing import Any
import uuid

import jwt

from .ports import HOST, hold_port

ROOT = Path(__file__).resolve().parent.parent
COMPONENTS = {
    "gatewright": ROOT / "custom_components" / "gatewright",
    "virtual_workshop": ROOT / "demo" / "custom_components" / "virtual_workshop",
}

TEN_YEARS = 315360000

_CARD = "hub.json"
"""The file with the port and the token of a prepared directory."""

_CONFIGURATION = """\
homeassistant:
  auth_providers:
    # Whoever opens the page on this machine is signed in at once.
    - type: trusted_networks
      trusted_networks: [127.0.0.0/8]
      allow_bypass_login: true
    # The owner's credential, and with it the token, belongs to this one.
    - type: homeassistant
frontend:
history:
logbook:
conversation:
recorder:
logger:
  default: warning
"""


@dataclass(frozen=True, slots=True)
class HubDirectory:
    """A prepared configuration directory."""

    path: Path
    port: int
    token: str

    @property
    def url(self) -> str:
        """Return Home Assistant's URL, without a slash at the end."""
        return f"http://{HOST}:{self.port}"

    @property
    def log(self) -> Path:
        """Return the file with Home Assistant's output."""
        return self.path / "hub.log"


def prepare(
    path: Path,
    *,
    port: int | None = None,
    components: Iterable[str] = tuple(COMPONENTS),
    workshop: Mapping[str, Any] | None = None,
    integrations: Iterable[str] = (),
    extra_yaml: str = "",
    name: str = "Alder Yard",
    us_units: bool = False,
) -> HubDirectory:
    """Prepare a new configuration directory; an earlier one is deleted.

    `components` are the custom components to copy there, `workshop` the changes to the
    virtual workshop, `integrations` further integrations to load without settings, and
    `extra_yaml` is appended to configuration.yaml. Without a `port` that the caller
    holds, one is taken and held.
    """
    if path.exists():
        shutil.rmtree(path)
    (path / ".storage").mkdir(parents=True)
    chosen = list(components)
    copy_components(path, chosen)
    lines = [_CONFIGURATION, *(f"{domain}:\n" for domain in integrations)]
    if "virtual_workshop" in chosen:
        # JSON is YAML as well.
        lines.append(f"virtual_workshop: {json.dumps(dict(workshop or {}))}\n")
    (path / "configuration.yaml").write_text("".join([*lines, extra_yaml]), "utf-8")

    directory = HubDirectory(path, port or hold_port(), "")
    token = _seed(directory, name, us_units=us_units)
    card = {"port": directory.port, "token": token}
    (path / _CARD).write_text(json.dumps(card), "utf-8")
    return HubDirectory(path, directory.port, token)


def reopen(path: Path) -> HubDirectory:
    """Return a prepared directory; raises `FileNotFoundError`."""
    card = json.loads((path / _CARD).read_text("utf-8"))
    return HubDirectory(path, card["port"], card["token"])


_PLANT = ("core/simulation/plant", "core/times.py")
"""The parts of Gatewright that the virtual workshop is built from."""


def copy_components(path: Path, components: Iterable[str]) -> None:
    """Copy custom components into a configuration directory, replacing older copies.

    They are copied, as in an installation, because Home Assistant serves a component's
    files only from their real location.
    """
    copied = path / "custom_components"
    for domain in components:
        _copy(COMPONENTS[domain], copied / domain)
    if not (copied / "gatewright").exists():
        for part in _PLANT:
            _copy(COMPONENTS["gatewright"] / part, copied / "gatewright" / part)


def _copy(source: Path, target: Path) -> None:
    """Copy a file or a folder over what exists."""
    if source.is_file():
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(source, target)
        return
    shutil.rmtree(target, ignore_errors=True)
    shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__"))


def _seed(directory: HubDirectory, name: str, *, us_units: bool) -> str:
    """Write the files of `.storage`; return the token."""
    now = datetime.now(UTC)
    auth, token = _auth(directory.url, now)
    _store(directory, "auth", auth)
    steps = ["user", "core_config", "analytics", "integration"]
    _store(directory, "onboarding", {"done": steps}, version=4)
    server = {
        "server_host": [HOST],
        "server_port": directory.port,
        "cors_allowed_origins": [],
        "login_attempts_threshold": -1,
        "ip_ban_enabled": False,
        "ssl_profile": "modern",
        "use_x_frame_options": True,
        "created_at": now.isoformat(),
        "error": None,
        "error_message": None,
    }
    http = {"stable": server, "pending": None, "yaml_migration_done": True}
    _store(directory, "http", http, version=2, minor=2)
    core = {
        "latitude": 0.0,
        "longitude": 0.0,
        "elevation": 0,
        "unit_system_v2": "us_customary" if us_units else "metric",
        "location_name": name,
        "time_zone": "UTC",
        "external_url": None,
        "internal_url": directory.url,
        "currency": "USD",
        # Without one, Home Assistant raises a repair.
        "country": "US",
        "language": "en",
        "radius": 100,
    }
    _store(directory, "core.config", core, minor=4)
    return token


def _store(
    directory: HubDirectory,
    key: str,
    data: Mapping[str, Any],
    *,
    version: int = 1,
    minor: int = 1,
) -> None:
    content = {"version": version, "minor_version": minor, "key": key, "data": data}
    file = directory.path / ".storage" / key
    file.write_text(json.dumps(content, indent=2), "utf-8")
    file.chmod(0o600)


def _auth(url: str, now: datetime) -> tuple[dict[str, Any], str]:
    """Return the `auth` file's content with one owner, and a valid token."""
    user, credential, refresh = (uuid.uuid4().hex for _ in range(3))
    key = secrets.token_hex(64)
    groups = {
        "system-admin": "Administrators",
        "system-users": "Users",
        "system-read-only": "Read Only",
    }
    auth = {
        "users": [
            {
                "id": user,
                "group_ids": ["system-admin"],
                "is_owner": True,
                "is_active": True,
                "name": "Owner",
                "system_generated": False,
                "local_only": False,
            }
        ],
        "groups": [{"id": group, "name": title} for group, title in groups.items()],
        "credentials": [
            {
                "id": credential,
                "user_id": user,
                "auth_provider_type": "homeassistant",
                "auth_provider_id": None,
                "data": {"username": "owner"},
            }
        ],
        "refresh_tokens": [
            {
                "id": refresh,
                "user_id": user,
                "client_id": None,
                "client_name": "Demo",
                "client_icon": None,
                "token_type": "long_lived_access_token",
                "created_at": now.isoformat(),
                "access_token_expiration": float(TEN_YEARS),
                "token": secrets.token_hex(64),
                "jwt_key": key,
                "last_used_at": None,
                "last_used_ip": None,
                "expire_at": None,
                "credential_id": credential,
                "version": None,
            }
        ],
    }
    issued = int(now.timestamp())
    claims = {"iss": refresh, "iat": issued, "exp": issued + TEN_YEARS}
    return auth, jwt.encode(claims, key, algorithm="HS256")
