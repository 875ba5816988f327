"""`facegraphic show` before it serves: what is missing or wrong is told plainly."""

import importlib.util
from pathlib import Path

import pytest
from helpers.page_server import copied
from helpers.runs import run_here

import facegraphic.cli.show as show
from facegraphic.errors import UserError
from facegraphic.page import server


def test_a_job_that_is_not_there(tmp_path: Path) -> None:
    ran = run_here("show", str(tmp_path / "none.toml"))
    assert ran.status == 1 and ran.out == ""
    assert "there is no such file" in ran.err and "nothing was written" not in ran.err


def test_a_folder_without_jobs(tmp_path: Path) -> None:
    ran = run_here("show", str(tmp_path))
    assert ran.status == 1 and "no job file" in ran.err and "facegraphic new" in ran.err


@pytest.mark.parametrize("missing", [["starlette"], ["uvicorn", "watchfiles"]])
def test_a_missing_extra(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, missing: list[str]) -> None:
    real = importlib.util.find_spec
    monkeypatch.setattr(show, "find_spec", lambda name: None if name in missing else real(name))
    ran = run_here("show", str(copied(tmp_path)))
    assert ran.status == 1 and ran.out == ""
    assert f"needs {', '.join(missing)}" in ran.err
    assert 'pip install ".[page]"' in ran.err


def test_the_ports_agree() -> None:
    """The command names its port without loading the server."""
    assert show.PORT == server.PORT


def test_no_port_is_free() -> None:
    with server.listen(0).socket as taken:
        with pytest.raises(UserError, match=r"no port from \d+ on is free"):
            found = [server.listen(65535)]  # the last port there is
            try:
                server.listen(65535)
            finally:
                found[0].socket.close()
        assert taken.getsockname()[0] == "127.0.0.1"


def test_tokens_are_long_and_never_alike() -> None:
    """At least 128 bits from the system's source (OWASP session management: at least 64 bits of entropy)."""
    tokens = {server.new_token() for _ in range(100)}
    assert len(tokens) == 100 and all(len(token) >= 22 for token in tokens)
