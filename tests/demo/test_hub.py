"""The launcher without a process: its directory and its log filter."""

import json
from pathlib import Path

import jwt
import pytest

from demo.hub_directory import prepare, reopen
from demo.hub_log import read_log
from demo.ports import HOST


@pytest.fixture(autouse=True)
def _sockets(socket_enabled: None) -> None:
    """Let the launcher try ports."""


def test_directory_is_complete_and_its_token_is_valid(tmp_path: Path) -> None:
    path = tmp_path / "hub"
    path.mkdir()
    (path / "left over").touch()
    made = prepare(
        path,
        port=8199,
        workshop={"collector": {"coast": 3}},
        integrations=["mobile_app"],
        extra_yaml="sun:\n",
    )
    assert not (path / "left over").exists()
    assert made.url == "http://127.0.0.1:8199"
    for component in ("gatewright", "virtual_workshop"):
        assert (path / "custom_components" / component / "manifest.json").exists()
    assert not list(path.rglob("__pycache__"))
    text = (path / "configuration.yaml").read_text()
    assert 'virtual_workshop: {"collector": {"coast": 3}}\n' in text
    assert "\nmobile_app:\n" in text
    assert text.endswith("sun:\n")
    server = json.loads((path / ".storage" / "http").read_text())["data"]["stable"]
    assert (server["server_host"], server["server_port"]) == ([HOST], 8199)

    auth = json.loads((path / ".storage" / "auth").read_text())["data"]
    refresh = auth["refresh_tokens"][0]
    claims = jwt.decode(made.token, refresh["jwt_key"], algorithms=["HS256"])
    assert claims["iss"] == refresh["id"]
    assert (path / ".storage" / "auth").stat().st_mode & 0o077 == 0
    assert reopen(path) == made


def test_each_directory_has_secrets_of_its_own(tmp_path: Path) -> None:
    made = [
        prepare(tmp_path / name, port=8199, components=["virtual_workshop"])
        for name in ("a", "b")
    ]
    assert made[0].token != made[1].token
    # The workshop uses its simulated plant; it isn't an integration there.
    gatewright = tmp_path / "a" / "custom_components" / "gatewright"
    assert {path.name for path in gatewright.iterdir()} == {"core"}


def test_nobody_has_prepared_this(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        reopen(tmp_path)


LOG = """\
Traceback before anything else
2026-05-01 10:00:00.000 WARNING (MainThread) [homeassistant.loader] We found a custom integration gatewright which
2026-05-01 10:00:00.100 ERROR (MainThread) [haffmpeg.core] FFmpeg fails [Errno 2]
Traceback (most recent call last):
FileNotFoundError
2026-05-01 10:00:01.000 ERROR (MainThread) [custom_components.gatewright] It broke
Traceback (most recent call last):
  File "ffmpeg.py"
ZeroDivisionError
2026-05-01 10:00:02.000 WARNING (MainThread) [homeassistant.core] Slow
"""


def test_trouble_is_told_from_noise(tmp_path: Path) -> None:
    log = tmp_path / "hub.log"
    assert read_log(log) == []
    log.write_text(LOG)
    found = read_log(log)
    assert [(entry.level, entry.text.splitlines()[0]) for entry in found] == [
        ("RAW", "Traceback before anything else"),
        ("ERROR", "It broke"),
        ("WARNING", "Slow"),
    ]
    assert found[1].text.endswith("ZeroDivisionError")
    later = LOG.index("2026-05-01 10:00:02")
    assert [entry.text for entry in read_log(log, later)] == ["Slow"]
