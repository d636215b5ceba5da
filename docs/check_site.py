"""Look through the built site for what a reader would stumble over.

    python docs/check_site.py docs/_build/html     # a sentence for each finding; exit 1 if any

Nothing may come from the network (scripts, styles, pictures, fonts, frames); every picture has
words in its place; headings go down one level at a time from one first heading; every link within
the site leads somewhere.
"""

from __future__ import annotations

import html
import re
import sys
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

_OUTSIDE = re.compile(r"^(https?:)?//", re.IGNORECASE)
_IN_STYLE = re.compile(r"""(?:@import\s+|url\()\s*["']?((?:https?:)?//[^"')\s]+)""", re.IGNORECASE)
_LOADED = {
    ("script", "src"), ("img", "src"), ("iframe", "src"), ("source", "src"), ("audio", "src"),
    ("video", "src"), ("embed", "src"), ("object", "data"), ("link", "href"), ("image", "href"),
}  # fmt: skip
_NOT_LOADED = ("canonical", "next", "prev", "search", "index", "author")


class Page(HTMLParser):
    """What one page loads, links to, shows and is divided into."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.loaded: list[str] = []
        self.links: list[str] = []
        self.ids: set[str] = set()
        self.headings: list[int] = []
        self.without_words = 0
        self.frames: list[str] = []
        self._main = 0
        self._style = False
        self.feed(text)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        """Note what a tag loads and says."""
        has = {name: value or "" for name, value in attributes}
        if "id" in has:
            self.ids.add(has["id"])
        if tag == "article":
            self._main += 1
        if tag == "style":
            self._style = True
        if not (tag == "link" and set(has.get("rel", "").split()) & set(_NOT_LOADED)):
            self.loaded += [has[name] for kind, name in _LOADED if kind == tag and name in has]
        self.loaded += _IN_STYLE.findall(has.get("style", ""))
        if tag == "a" and "href" in has:
            self.links.append(has["href"])
        if tag == "img" and not has.get("alt", "").strip():
            self.without_words += 1
        if tag == "iframe":
            self.frames.append(has.get("srcdoc", ""))
            self.without_words += not has.get("title", "").strip()
        if self._main and re.fullmatch("h[1-6]", tag):
            self.headings.append(int(tag[1]))

    def handle_endtag(self, tag: str) -> None:
        """Leave the article, or a style."""
        if tag == "article":
            self._main -= 1
        if tag == "style":
            self._style = False

    def handle_data(self, data: str) -> None:
        """Look into a style."""
        if self._style:
            self.loaded += _IN_STYLE.findall(data)


def findings(site: Path) -> list[str]:
    """Every stumbling block, a sentence each."""
    files = sorted(site.rglob("*.html"))
    pages = {path.resolve(): Page(path.read_text(encoding="utf-8")) for path in files}
    said = [] if files else [f"{site}: there is no page"]
    for path, page in pages.items():
        name = path.relative_to(site.resolve())
        said += [f"{name}: {words}" for words in _of_page(page)]
        said += [f"{name}: {words}" for words in _of_links(path, page, pages)]
    for path in sorted(site.rglob("*.css")):
        for url in _IN_STYLE.findall(path.read_text(encoding="utf-8")):
            said.append(f"{path.relative_to(site)}: loads {url} from the network")
    return said


def _of_page(page: Page) -> list[str]:
    loaded = [*page.loaded, *(url for frame in page.frames for url in Page(frame).loaded)]
    said = [f"loads {url} from the network" for url in loaded if _OUTSIDE.match(url)]
    if page.without_words:
        said.append(f"{page.without_words} pictures or frames have no words in their place")
    if page.headings and (page.headings[0] != 1 or page.headings.count(1) != 1):
        said.append(f"{page.headings.count(1)} first headings; it needs one, at the top")
    for one, other in zip(page.headings, page.headings[1:], strict=False):
        if other > one + 1:
            said.append(f"a heading of level {other} follows one of level {one}")
    return said


def _of_links(path: Path, page: Page, pages: dict[Path, Page]) -> list[str]:
    said = []
    for link in page.links:
        parts = urlsplit(html.unescape(link))
        if parts.scheme or parts.netloc:
            continue
        target = (path.parent / unquote(parts.path)).resolve() if parts.path else path
        if not target.exists():
            said.append(f"links to {link}, which is not there")
        elif parts.fragment and target in pages:
            ids = pages[target].ids
            if unquote(parts.fragment) not in ids and parts.fragment not in ids:
                said.append(f"links to {link}, and the page has no such place")
    return said


def main(arguments: list[str]) -> int:
    """Look through the site; returns the exit code."""
    if len(arguments) != 1:
        print(__doc__, file=sys.stderr)
        return 2
    said = findings(Path(arguments[0]))
    print("\n".join(said) or "the site stands alone, and every link in it leads somewhere")
    return 1 if said else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
