"""Answer requests of another program: lines of JSON on standard input and output, until the input closes.

The first line out is ``{"ready": VERSION}``. A request is one line::

    {"call": "carries", "args": ["merrowby.gpkg"], "options": {"hole": 1}, "cwd": "/home/me"}

``call`` names a public function of the package (or ``survey_style``, ``shown_first``,
``layout_documents``), or with ``"on"`` a
method of an object.
Answers are any number of ``{"share": 0.4, "text": "..."}`` (progress) and ``{"warning": "..."}``, then one
``{"result": ...}`` or ``{"error": "InputError", "text": "..."}``. The line ``{"cancel": true}`` stops the
work under way.

In values, a list stands for a list or tuple, ``{"$items": [[key, value], ...]}`` for a mapping and
``{"$path": "..."}`` for a path. Any other object stays in this process and is answered as ``{"$object":
NUMBER, "type": ..., "text": ...}`` with what can be told of it: ``fields``, ``methods``, and the ``layers``
of a result (see :func:`gistools.steps.records.result_as_json`). ``{"$ref": NUMBER}`` gives it back as an
argument, with ``"item"`` one layer of it. ``"release": [NUMBER, ...]`` in a request forgets objects. A site
is read anew when its file changed.
"""

from __future__ import annotations

import _thread
import contextlib
import dataclasses
import inspect
import io
import json
import os
import queue
import sys
import threading
import traceback
import warnings
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import gistools
from gistools.base.errors import GistoolsError, GistoolsWarning, InputError
from gistools.base.progress import on_progress
from gistools.base.values import json_value
from gistools.base.version import __version__

#: progress is told when it has grown by this share
LEAST_SHARE = 0.005
#: how long work may take to stop when the input closes, before the process is ended [s]
GRACE_S = 3.0
#: parameters that take an open site alone, by name and type; a path given for one is opened
SITES, SITE_TYPES = ("site", "before", "after"), ("Site", "Any")


def serve() -> None:
    """Answer requests until the input closes."""
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # what a library prints is no answer
    Server(out).run()
    out.flush()
    os._exit(0)  # the thread that reads may wait on the input for ever


class Server:
    """Objects given out by number, and the loop that answers requests one after the other."""

    def __init__(self, out: Any) -> None:
        self.out = out
        self.objects: dict[int, Stored] = {}
        self.count = 0
        self.requests: queue.Queue[dict[str, Any] | None] = queue.Queue()
        self.busy = False
        self.cancelled = False

    def run(self) -> None:
        """Answer one request after the other."""
        warnings.showwarning = self._warn  # type: ignore[assignment]
        threading.Thread(target=self._read, daemon=True).start()
        self._send(ready=__version__)
        while True:
            with contextlib.suppress(KeyboardInterrupt):  # a cancel that came when the work was done
                request = self.requests.get()
                if request is None:
                    return
                self._answer(request)

    def _read(self) -> None:
        for line in sys.stdin.buffer:
            request = json.loads(line)
            if "cancel" not in request:
                self.requests.put(request)
            elif self.busy:
                self.cancelled = True
                _thread.interrupt_main()
        self.requests.put(None)
        if self.busy:
            self.cancelled = True
            _thread.interrupt_main()
            threading.Timer(GRACE_S, os._exit, (130,)).start()

    def _send(self, **answer: Any) -> None:
        self.out.write(json.dumps(answer) + "\n")
        self.out.flush()

    def _warn(self, message: Any, category: Any, filename: str, line: int, *_more: Any) -> None:
        if issubclass(category, GistoolsWarning):
            self._send(warning=str(message))
        else:
            sys.stderr.write(warnings.formatwarning(message, category, filename, line))

    def _answer(self, request: dict[str, Any]) -> None:
        try:
            self.busy, self.cancelled = True, False
            answer = {"result": self._do(request)}
        except KeyboardInterrupt:
            answer = {"error": "Cancelled", "text": "stopped by the user; the site file is as it was"}
        except GistoolsError as error:
            answer = {"error": type(error).__name__, "text": str(error)}
        except Exception as fault:
            answer = {"error": type(fault).__name__, "text": str(fault), "trace": traceback.format_exc()}
        finally:
            self.busy = False
        self._send(**answer)

    def _do(self, request: dict[str, Any]) -> Any:
        os.chdir(request.get("cwd", "."))
        for number in request.get("release", ()):
            self.objects.pop(number, None)
        recipe = Recipe(
            request["call"], request.get("args", []), request.get("options", {}), request.get("on")
        )
        return self._describe(self._evaluate(recipe), recipe)

    def _evaluate(self, recipe: Recipe) -> Any:
        args = [self._decode(v) for v in recipe.args]
        options = {k: self._decode(v) for k, v in recipe.options.items()}
        function = self._function(recipe)
        parameters = inspect.signature(function).parameters
        for k, parameter in enumerate(list(parameters.values())[: len(args)]):
            if parameter.name in SITES and parameter.annotation in SITE_TYPES and isinstance(args[k], str):
                args[k] = gistools.open_site(args[k])
        listen = self._progress()
        if "progress" in parameters:
            options["progress"] = listen
        with on_progress(listen):
            return function(*args, **options)

    def _function(self, recipe: Recipe) -> Callable[..., Any]:
        function: Any = None
        if recipe.on is not None:
            if not recipe.call.startswith("_"):
                function = getattr(self._decode(recipe.on), recipe.call, None)
        elif recipe.call in gistools.__all__:
            function = getattr(gistools, recipe.call)
        elif recipe.call == "survey_style":
            from gistools.sheets.styles import survey_style as function
        elif recipe.call == "shown_first":
            from gistools.sheets.shown_first import shown_first as function
        elif recipe.call == "layout_documents":
            from gistools.sheets.project_layouts import layout_documents as function
        if not callable(function):
            raise InputError(f"there is nothing called {recipe.call!r} to run")
        called: Callable[..., Any] = function
        return called

    def _progress(self) -> Callable[[float, str], None]:
        """Return a listener that passes progress on, not too often and never backwards."""
        last_share, last_text = -1.0, ""

        def listen(share: float, text: str) -> None:
            nonlocal last_share, last_text
            if self.cancelled:  # where a library has swallowed the interrupt
                raise KeyboardInterrupt
            share = max(share, last_share)
            if text != last_text or share - last_share >= LEAST_SHARE:
                last_share, last_text = share, text
                self._send(share=share, text=text)

        return listen

    def _decode(self, value: Any) -> Any:
        if isinstance(value, list):
            return tuple(self._decode(v) for v in value)
        if not isinstance(value, dict):
            return value
        if "$items" in value:
            return {self._decode(k): self._decode(v) for k, v in value["$items"]}
        if value["$ref"] not in self.objects:
            raise InputError("this result is no longer there; run the step again")
        stored = self.objects[value["$ref"]]
        if stored.state != self._state(stored.recipe):
            stored.value = self._evaluate(stored.recipe)
            stored.state = self._state(stored.recipe)
        return stored.value[value["item"]] if "item" in value else stored.value

    def _state(self, recipe: Recipe) -> Any:
        """Return what tells whether a site has to be read anew: times and sizes of the files it came from."""
        states: list[Any] = []
        for value in (*recipe.args, *recipe.options.values()):
            if isinstance(value, str):
                files = [Path(value), Path(value + "-wal")]
                states += [(f.stat().st_mtime_ns, f.stat().st_size) for f in files if f.is_file()]
            elif isinstance(value, dict) and value.get("$ref") in self.objects:
                states.append(self._state(self.objects[value["$ref"]].recipe))
        return states

    def _describe(self, value: Any, recipe: Recipe | None = None) -> Any:
        if value is None or isinstance(value, (bool, int, float, str)):
            return json_value(value)
        if isinstance(value, Path):
            return {"$path": str(value)}
        if isinstance(value, (list, tuple)):
            return [self._describe(v) for v in value]
        layers = _layers(value)
        if isinstance(value, Mapping) and not layers:
            return {"$items": [[self._describe(k), self._describe(v)] for k, v in value.items()]}
        if hasattr(value, "tolist") and not layers:
            return json_value(value)
        self.count += 1
        if recipe is None or type(value).__name__ != "Site":
            recipe = _NO_RECIPE
        self.objects[self.count] = Stored(value, recipe, self._state(recipe))
        description = {
            "$object": self.count,
            "type": "Layers" if isinstance(value, Mapping) else type(value).__name__,
            "text": _text(value),
        }
        if layers:
            return description | layers
        methods = [n for n, _ in inspect.getmembers(type(value), callable) if not n.startswith("_")]
        fields = {name: self._describe(part) for name, part in _fields(value).items()}
        return description | {"fields": fields, "methods": methods}


@dataclasses.dataclass(frozen=True)
class Recipe:
    """A call as it was asked for, so that a site can be made again when its file changed."""

    call: str
    args: list[Any]
    options: dict[str, Any]
    on: Any = None


_NO_RECIPE = Recipe("", [], {})


@dataclasses.dataclass
class Stored:
    """An object given out, how it was made, and the state of the files then."""

    value: Any
    recipe: Recipe
    state: Any


def _layers(value: Any) -> dict[str, Any]:
    """Return the layers and maps of a result as plain values; nothing for what is no result."""
    from gistools.site.results import Map
    from gistools.steps.records import layers_of, result_as_json

    parts = list(value.values()) if isinstance(value, Mapping) else [value]
    if not parts or not all(hasattr(part, "to_dict") or isinstance(part, Map) for part in parts):
        return {}
    crs = getattr(next((p for p in layers_of(value).values() if hasattr(p, "crs")), None), "crs", None)
    return result_as_json(value, crs.to_string() if crs is not None else "")


def _text(value: Any) -> str:
    """Return what a console shows of an object."""
    from gistools.cli.screen import print_changes, print_result

    with contextlib.redirect_stdout(io.StringIO()) as text:
        attrs = getattr(value, "attrs", {})
        if isinstance(value, Mapping) or "step" in attrs:
            print_result(value)
        elif attrs.get("layer") == "changes":
            print_changes(value)
        elif type(value).__name__ == "Site":
            print(repr(value), *(f for f in value.findings if f.level != "note"), sep="\n")
        else:
            print(value)
    return text.getvalue().rstrip()


def _fields(value: Any) -> dict[str, Any]:
    """Return the public attributes of an object that have a plain form."""
    if type(value).__name__ == "Site":
        return {
            "path": value.path,
            "crs": value.crs.name,
            "holes": value.holes,
            "findings": list(value.findings),
        }
    names = [f.name for f in dataclasses.fields(value)] if dataclasses.is_dataclass(value) else []
    names += [n for n, _ in inspect.getmembers(type(value), lambda m: isinstance(m, property))]
    parts = {name: getattr(value, name) for name in names if not name.startswith("_")}
    return {name: part for name, part in parts.items() if _is_plain(part)}


def _is_plain(value: Any) -> bool:
    if isinstance(value, Mapping):
        return all(_is_plain(v) for v in value.values())
    if isinstance(value, (list, tuple)):
        return all(_is_plain(v) or dataclasses.is_dataclass(v) for v in value)
    return value is None or isinstance(value, (bool, int, float, str, Path))
