"""How kernels are compiled: once each, whatever constants their callers give them."""

from __future__ import annotations

import numpy as np
import pytest

from gistools.base import jit as _jit


@pytest.mark.skipif(not _jit.ENABLED, reason="kernels run as plain Python")
def test_constants_ask_for_no_version_of_their_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_jit, "_FOLDER", None)  # compiled here and now, not read from the cache

    @_jit.kernel(python_entry=False)
    def times(a, n):  # type: ignore[no-untyped-def]
        return a * n

    @_jit.kernel
    def whole(a):  # type: ignore[no-untyped-def]
        return times(a, 2) + times(a, 3)

    assert whole(1.5) == 7.5
    assert len(times.overloads) == 1


@pytest.mark.skipif(not _jit.ENABLED, reason="kernels run as plain Python")
def test_a_call_of_an_internal_kernel_from_python_is_an_error() -> None:
    @_jit.kernel(python_entry=False)
    def double(a):  # type: ignore[no-untyped-def]
        return 2 * a

    with pytest.raises(TypeError, match="kernel double is called by other kernels only"):
        double(1.5)
    assert double.py_func(1.5) == 3.0


@pytest.mark.skipif(not _jit.ENABLED, reason="kernels run as plain Python")
def test_a_kernel_that_makes_arrays_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_jit, "_FOLDER", None)

    def ramp(n):  # type: ignore[no-untyped-def]
        return np.arange(n)

    with pytest.raises(Exception, match="arange"):
        _jit.kernel(ramp)(3)
    assert _jit.kernel(allocates=True)(ramp)(3).tolist() == [0, 1, 2]
