"""Call the toolkit in a child process, from inside a program that has libraries of its own.

A desktop GIS brings its own GDAL, PROJ, SQLite and settings into its Python. Loading the toolkit's beside
them can crash the process, lose the CRSs, or undo locks on a file. So in such a program every public function
runs in a child process with a cleaned environment: ``gistools serve``, which stays alive between calls
(:mod:`gistools.cli.serve` says what passes between the two). Objects stay in the child; the console holds a
:class:`Remote` for each.

``GISTOOLS_SUBPROCESS`` set to 1 or 0 decides it anywhere. This module needs nothing but the standard library.
"""

from __future__ import annotations

import ast
import atexit
import contextlib
import os
import threading
import weakref
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from gistools.base.errors import Cancelled, InputError
from gistools.desktop import host
from gistools.desktop.child import Child, Progress, start
from gistools.desktop.interpreter import PACKAGE

#: calls that write into a GeoPackage: name -> number of the argument with its path or site, None for the
#: object itself
WRITERS = {"study": 0, "write_sample": 0, "lay_hole": 0, "write": None}


def required() -> bool:
    """Tell whether calls run in a child: in a desktop's process, or where ``GISTOOLS_SUBPROCESS`` is 1."""
    setting = os.environ.get("GISTOOLS_SUBPROCESS", "")
    return setting == "1" if setting in ("0", "1") else host.running()


def function(name: str, module: str, source_name: str) -> Callable[..., Any]:
    """Return a function that runs a public function of the toolkit in the child.

    Parameters
    ----------
    name
        Its public name.
    module, source_name
        Where its source is, for the help.
    """

    def call(*args: Any, **options: Any) -> Any:
        return _client.call(name, args, options)

    call.__name__ = call.__qualname__ = name
    call.__doc__ = _help(module, source_name)
    return call


def call(name: str, *args: Any, on: Any = None, **options: Any) -> Any:
    """Run a public function of the toolkit, or a method of an object that is in the child.

    Raises
    ------
    GistoolsError
        What the function raised, or that the child process ended.
    """
    return _client.call(name, args, options, on)


def survey_style(layer: str, geometry: str) -> str | None:
    """Return the style document of a survey layer, made in the child where calls run there.

    See :func:`gistools.sheets.styles.survey_style`.
    """
    if required():
        document: str | None = _client.call("survey_style", (layer, geometry), {})
        return document
    from gistools.sheets.styles import survey_style as style_of

    return style_of(layer, geometry)


def shown_first(path: Path) -> list[list[str]]:
    """Return what each result layer of a file shows first, found in the child where calls run there.

    See :func:`gistools.sheets.shown_first.shown_first`.
    """
    if required():
        rows: list[list[str]] = _client.call("shown_first", (str(path),), {})
        return rows
    from gistools.sheets.shown_first import shown_first as choices_of

    return choices_of(path)


def layout_documents(path: Path) -> list[list[str]]:
    """Return name and document of each print layout of a site, made in the child where calls run there.

    See :func:`gistools.sheets.project_layouts.layout_documents`.
    """
    if required():
        rows: list[list[str]] = _client.call("layout_documents", (str(path),), {})
        return rows
    from gistools.sheets.project_layouts import layout_documents as documents_of

    return documents_of(path)


class Remote:
    """An object in the child process: shown as there, its attributes and methods as there.

    Results of steps are mappings of layers; a layer is a sequence of rows, ``column(name)`` or ``[name]``
    gives one column. ``item`` names the layer of a result that has several.
    """

    def __init__(self, reply: dict[str, Any], recipe: Any, item: str | None = None) -> None:
        self._reply, self._recipe, self._item = reply, recipe, item
        self._child = _client.child
        if item is None:
            weakref.finalize(self, _client.released.append, (self._child, reply["$object"]))

    @property
    def layers(self) -> dict[str, list[dict[str, Any]]]:
        """Rows of each layer of a result."""
        return {name: layer["rows"] for name, layer in self._reply.get("layers", {}).items()}

    @property
    def rows(self) -> list[dict[str, Any]]:
        """Rows of this layer, or of the first layer of a result."""
        return self.layers[self._item] if self._item is not None else next(iter(self.layers.values()), [])

    @property
    def _entries(self) -> list[Any]:
        """Return names of layers and maps of a result that has several, else rows."""
        if self._item is None and self._reply["type"] == "Layers":
            return [*self.layers, *self._reply["maps"]]
        return self.rows

    def column(self, name: str) -> list[Any]:
        """Return one column of :attr:`rows`."""
        if self.rows and name not in self.rows[0]:
            raise InputError(f"there is no column {name!r}; there are {', '.join(self.rows[0])}")
        return [row[name] for row in self.rows]

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, int):
            return self.rows[key]
        if self._item is not None or self._reply["type"] != "Layers":
            return self.column(key)
        if key not in self._entries:
            raise KeyError(f"there is no layer {key!r}; there are {', '.join(self._entries)}")
        part = Remote(self._reply, self._recipe, key)
        part._parent = self  # type: ignore[attr-defined]  # keeps the result alive in the child
        return part

    def __iter__(self) -> Iterator[Any]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    def __bool__(self) -> bool:
        return True

    def __getattr__(self, name: str) -> Any:
        reply = self.__dict__.get("_reply", {})
        if name in reply.get("fields", {}):
            return _client.decode(reply["fields"][name], None)
        if name in reply.get("methods", ()):
            return lambda *args, **options: _client.call(name, args, options, on=self)
        raise AttributeError(f"{reply.get('type', 'Remote')} has no attribute {name!r} here; see dir() of it")

    def __dir__(self) -> list[str]:
        return sorted(
            [*self._reply.get("fields", ()), *self._reply.get("methods", ()), "layers", "rows", "column"]
        )

    def __repr__(self) -> str:
        if self._item is None:
            return str(self._reply["text"])
        return "\n".join([f"{self._item}, {len(self.rows)} rows", *map(str, self.rows[:5])])


class Client:
    """The child process and what is said to it, one request at a time."""

    def __init__(self) -> None:
        self.child: Child | None = None
        self.released: list[tuple[Any, int]] = []
        self._busy = threading.Lock()
        atexit.register(self.close)

    def call(self, name: str, args: tuple[Any, ...], options: dict[str, Any], on: Any = None) -> Any:
        """Run a function, or a method of an object, and return what it returns.

        Raises
        ------
        GistoolsError
            What the function raised, or that the child process ended.
        InputError
            If another call is under way, or an argument is no plain value.
        """
        progress = options.pop("progress", None)
        if name == "open_site" and args:
            args = (os.path.abspath(os.path.expanduser(args[0])), *args[1:])
        target = self._target(name, args, options, on)
        if target is not None:
            host.refuse_edits(target)
        if not self._busy.acquire(blocking=False):
            raise InputError("another call is under way in this console; wait for it or cancel it")
        try:
            with host.progress(progress) as listener:
                result = self._request(name, args, options, on, listener)
        finally:
            self._busy.release()
        if target is not None:
            host.refresh(target)
        return result

    def _target(self, name: str, args: tuple[Any, ...], options: Mapping[str, Any], on: Any) -> Path | None:
        """Return the file a call writes into."""
        number = WRITERS.get(name, -1)
        if number == -1 or (options.get("write") is False and options.get("out") is None):
            return None
        site = on if number is None else args[number] if len(args) > number else options.get("site")
        path = options.get("out") or (site if isinstance(site, (str, Path)) else getattr(site, "path", None))
        return None if path is None else Path(path)

    def _request(self, name: str, args: Any, options: Any, on: Any, listener: Progress | None) -> Any:
        child = self.child
        if child is None or child.process.poll() is not None:
            self.close()
            child = self.child = start()
        request = {
            "call": name,
            "args": [self._encode(v) for v in args],
            "options": {k: self._encode(v) for k, v in options.items()},
            "cwd": os.getcwd(),
            "release": [number for owner, number in self._take_released() if owner is child],
        }
        if on is not None:
            request["on"] = self._encode(on)
        try:
            return self.decode(child.ask(request, listener), (name, args, options, on))
        except (KeyboardInterrupt, Cancelled):
            if not child.cancel():
                self.close()
            raise Cancelled("stopped by the user; the site file is as it was") from None
        except BaseException:
            if child.process.poll() is not None:
                self.close()
            raise

    def _take_released(self) -> list[tuple[Any, int]]:
        taken, self.released[:] = list(self.released), []
        return taken

    def _encode(self, value: Any) -> Any:
        if isinstance(value, Remote):
            if value._child is not self.child:
                self._make_again(value)
            item = {} if value._item is None else {"item": value._item}
            return {"$ref": value._reply["$object"], **item}
        if isinstance(value, Mapping):
            return {"$items": [[self._encode(k), self._encode(v)] for k, v in value.items()]}
        if isinstance(value, (list, tuple, set)):
            return [self._encode(v) for v in value]
        if isinstance(value, os.PathLike):
            return os.fspath(value)
        if value is None or isinstance(value, (bool, int, float, str)):
            return value
        raise InputError(
            f"{type(value).__name__} cannot be given to a function that runs in a process of its own"
        )

    def _make_again(self, value: Remote) -> None:
        """Open a site again in a new child; results are gone with the old one."""
        if value._reply["type"] != "Site" or value._recipe is None:
            raise InputError("this result is gone with the process that computed it; run the step again")
        name, args, options, on = value._recipe
        fresh = self._request(name, args, options, on, None)
        value._reply, value._child = fresh._reply, fresh._child
        value._fresh = fresh  # type: ignore[attr-defined]  # its number is forgotten with this object

    def decode(self, value: Any, recipe: Any) -> Any:
        """Return a value of the child's as one of this process."""
        if isinstance(value, list):
            return [self.decode(v, None) for v in value]
        if not isinstance(value, dict):
            return value
        if "$items" in value:
            return {self.decode(k, None): self.decode(v, None) for k, v in value["$items"]}
        return Path(value["$path"]) if "$path" in value else Remote(value, recipe)

    def close(self) -> None:
        """End the child."""
        if self.child is not None:
            self.child.end()
            self.child = None


_client = Client()


def close() -> None:
    """End the child; the next call starts another."""
    _client.close()


def process_ids() -> list[int]:
    """Return the process ids of children, for who has to watch or end them."""
    child = _client.child
    return [] if child is None or child.process.poll() is not None else [child.process.pid]


def _help(module: str, name: str) -> str:
    """Return signature and docstring of a function from its source, which is not imported here."""
    with contextlib.suppress(OSError, SyntaxError, AttributeError):
        tree = ast.parse((PACKAGE.parent / (module.replace(".", "/") + ".py")).read_text(encoding="utf-8"))
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and node.name == name:
                return f"{name}({ast.unparse(node.args)})\n\n{ast.get_docstring(node)}"
    return f"See gistools about {name}."
