"""How kernels are compiled: once each, whatever constants their callers give them."""

from __future__ import annotations

import pytest

from gistools.base import jit as _jit


@pytest.mark.skipif(not _jit.ENABLED, reason="kernels run as plain Python")
def test_constants_ask_for_no_version_of_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_jit, "_FOLDER", None)  # compiled here and now, not read from the cache

    @_jit.inner
    def times(a, n):  # type: ignore[no-untyped-def]
        return a * n

    @_jit.kernel
    def whole(a):  # type: ignore[no-untyped-def]
        return times(a, 2) + times(a, 3)

    assert whole(1.5) == 7.5
    assert len(times.overloads) == 1
