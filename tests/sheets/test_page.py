"""Pages are written whole or not at all, over nothing that is there, and hold no way out of the file."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from gistools.base.errors import Cancelled, InputError, WriteError
from gistools.sheets import page as pages
from gistools.sheets.page import write_sheets
from gistools.sheets.results import HoleResults
from gistools.site.model import Site


class Outline(HTMLParser):
    """Headings, ids and addresses of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.headings: list[int] = []
        self.ids: list[str] = []
        self.addresses: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        for name, value in attrs:
            if name == "id":
                self.ids.append(value or "")
            if name in ("href", "src", "action", "srcset"):
                self.addresses.append(value or "")


@pytest.fixture
def gathered(monkeypatch: pytest.MonkeyPatch, results: HoleResults) -> HoleResults:
    """The page's own steps replaced by the known results."""
    monkeypatch.setattr(pages, "collect_results", lambda site, hole, progress=None, **_: results)
    return results


def test_page_is_self_contained_and_in_order(
    straight_site: Site, gathered: HoleResults, tmp_path: Path
) -> None:
    written = write_sheets(straight_site, to=tmp_path / "out")
    assert [p.name for p in written] == ["hole_1.html", "index.html"]
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["hole_1.html", "index.html"]
    for path in written:
        text = path.read_text(encoding="utf-8")
        outline = Outline(text)
        assert all(
            a.startswith(("data:", "#")) or re.fullmatch(r"[\w.]+\.html", a) for a in outline.addresses
        )
        assert len(outline.ids) == len(set(outline.ids))
        assert outline.headings[0] == 1 and outline.headings.count(1) == 1
        steps = zip(outline.headings, outline.headings[1:], strict=False)
        assert all(b - a <= 1 for a, b in steps)
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text)
    text = written[0].read_text(encoding="utf-8")
    assert "Mind the neighbours." in text and "a source" in text
    assert "the site has nothing in `brief`" in text
    assert "<script>alert" not in text and "<b>house" not in text
    body = re.search(r'id="figures">(.*?)</script>', text, re.S)
    assert body and json.loads(body[1])["hole"] == 1
    assert len(text) < 3_000_000


def test_existing_pages_are_kept(straight_site: Site, gathered: HoleResults, tmp_path: Path) -> None:
    write_sheets(straight_site, to=tmp_path)
    (tmp_path / "hole_1.html").write_text("mine")
    with pytest.raises(WriteError, match=r"hole_1\.html"):
        write_sheets(straight_site, to=tmp_path)
    assert (tmp_path / "hole_1.html").read_text() == "mine"
    write_sheets(straight_site, to=tmp_path, replace=True)
    assert "Hole 1" in (tmp_path / "hole_1.html").read_text(encoding="utf-8")


def test_pictures_come_beside_the_page(straight_site: Site, gathered: HoleResults, tmp_path: Path) -> None:
    written = write_sheets(straight_site, to=tmp_path, pictures=True)
    pictures = [f"hole_1_{label}.{kind}" for label in ("plan", "sections") for kind in ("pdf", "png")]
    assert [p.name for p in written] == ["hole_1.html", *pictures, "index.html"]
    for name in pictures:
        start = b"%PDF-" if name.endswith("pdf") else b"\x89PNG"
        assert (tmp_path / name).read_bytes().startswith(start)
    (tmp_path / "hole_1.html").unlink()
    with pytest.raises(WriteError, match="hole_1_plan"):
        write_sheets(straight_site, to=tmp_path, pictures=True)
    assert not (tmp_path / "hole_1.html").exists()


def test_a_foreign_index_is_kept(straight_site: Site, gathered: HoleResults, tmp_path: Path) -> None:
    (tmp_path / "index.html").write_text("somebody's")
    with pytest.raises(WriteError, match=r"index\.html"):
        write_sheets(straight_site, to=tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["index.html"]
    assert (tmp_path / "index.html").read_text() == "somebody's"


def test_stopping_leaves_nothing(
    straight_site: Site, results: HoleResults, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(site: Site, hole: int, **_: object) -> HoleResults:
        raise Cancelled("stopped")

    monkeypatch.setattr(pages, "collect_results", stopped)
    with pytest.raises(Cancelled):
        write_sheets(straight_site, to=tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_a_full_disk_leaves_the_old_pages(
    straight_site: Site, gathered: HoleResults, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_sheets(straight_site, to=tmp_path)
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}

    def full(self: Path, data: bytes) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(WriteError, match="No space left"):
        write_sheets(straight_site, to=tmp_path, replace=True)
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before


def test_choices_are_checked(straight_site: Site, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="hole 9"):
        write_sheets(straight_site, hole=9, to=tmp_path)
    with pytest.raises(InputError, match="units"):
        write_sheets(straight_site, to=tmp_path, units="ft")
    with pytest.raises(InputError, match="to="):
        write_sheets(straight_site)
    (tmp_path / "file").write_text("")
    with pytest.raises(WriteError, match="is a file"):
        write_sheets(straight_site, to=tmp_path / "file")


def test_progress_runs_forward_and_stops_the_work(straight_site: Site, tmp_path: Path) -> None:
    from gistools.sheets.results import collect_results

    shares: list[float] = []
    collect_results(
        straight_site, 1, ("lines_of_play", "lengths", "carries"), progress=lambda s, t: shares.append(s)
    )
    assert shares[0] == 0.0 and shares == sorted(shares) and shares[-1] < 1.0

    def stop(share: float, text: str) -> None:
        raise Cancelled("enough")

    with pytest.raises(Cancelled):
        write_sheets(straight_site, to=tmp_path / "out", progress=stop)
    assert not (tmp_path / "out").exists()


def test_a_step_that_cannot_work_leaves_its_reason(straight_site: Site) -> None:
    from gistools.sheets.results import collect_results

    bare = straight_site.replace(greens=straight_site.layer("greens").iloc[:0])
    gone = collect_results(bare, 1, ("lines_of_play",))
    assert "greens" in gone.reasons["lines_of_play"] and not gone.tables
