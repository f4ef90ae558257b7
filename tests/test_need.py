"""A test that lacks its program is skipped and says so; on CI it fails."""

from __future__ import annotations

from collections.abc import Callable

import pytest

Need = Callable[[str], str]


def test_a_program_that_is_there_is_found(need: Need) -> None:
    assert need("sh").endswith("/sh")


def test_a_missing_program_skips_and_says_what_to_install(need: Need, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(
        pytest.skip.Exception, match="needs the program no-such-program: sudo apt-get install no-such-program"
    ):
        need("no-such-program")


def test_on_ci_a_missing_program_is_a_failure(need: Need, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="a failure on CI"):
        need("no-such-program")
