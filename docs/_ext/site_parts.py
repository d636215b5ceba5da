"""What the site needs beside Sphinx: the course, code that runs, live pages, formulas, a table."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path
from typing import Any, ClassVar

import agreement_table
import latex2mathml.converter
import pages
from docutils import nodes
from docutils.parsers.rst import directives
from sphinx.application import Sphinx
from sphinx.transforms.post_transforms import SphinxPostTransform
from sphinx.util import logging
from sphinx.util.docutils import SphinxDirective
from sphinx.util.nodes import make_refnode

DOCS = Path(pages.DOCS)
LESSONS = DOCS.parent / "notebooks"
log = logging.getLogger(__name__)


# -- before anything is read ---------------------------------------------------------------------


def gather(app: Sphinx, config: Any) -> None:
    """Copy the lessons, and run the code of every page that changed."""
    _lessons()
    _reports()
    _drop_old_stubs()
    for name in pages.pages():
        if not pages.fresh(name):
            log.info("running the code of %s", name)
            try:
                pages.make(name)
            except pages.PageError as error:
                log.warning("%s", error)


def _reports() -> None:
    """Gather what the longer runs of the tools found, a heading lower than in their files."""
    found = [DOCS.parent / "tools" / f"{name}.md" for name in ("fuzz", "mutation")]
    text = "\n\n".join(
        re.sub(r"^#", "##", path.read_text(encoding="utf-8"), flags=re.MULTILINE)
        for path in found
        if path.exists()
    )
    pages.MADE.mkdir(exist_ok=True)
    (pages.MADE / "reports.md").write_text(text or _NO_REPORTS, encoding="utf-8")


_NO_REPORTS = """## Longer runs

What the tools of the folder `tools` find in longer runs stands here when they have been run.
"""


def _drop_old_stubs() -> None:
    """Remove pages of names that the reference no longer lists."""
    text = "\n".join(page.read_text(encoding="utf-8") for page in DOCS.glob("api/*.md"))
    listed = set(re.findall(r"^   (\w+)$", text, re.MULTILINE))
    for path in DOCS.glob("api/generated/*.rst"):
        if path.stem.rpartition(".")[2] not in listed:
            path.unlink()


def _lessons() -> None:
    course = DOCS / "course"
    wanted = {"index.md": _course_index()}
    for path in sorted(LESSONS.glob("[0-9][0-9]_*.ipynb")):
        wanted[path.name] = _lesson(path)
    for path in sorted(LESSONS.glob("answers/*.ipynb")):
        wanted[f"answers/{path.name}"] = _lesson(path)
    if any(name.startswith("answers/") for name in wanted):
        wanted["answers/index.md"] = _ANSWERS
    if course.exists():
        for path in sorted(course.rglob("*")):
            if path.is_file() and path.relative_to(course).as_posix() not in wanted:
                path.unlink()
    for name, text in wanted.items():
        path = course / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")


def _lesson(path: Path) -> str:
    """The text of a notebook, with each picture described by the figure's title in its code."""
    book = json.loads(path.read_text(encoding="utf-8"))
    heading = path.stem
    for cell in book["cells"]:
        source = "".join(cell["source"])
        if cell["cell_type"] == "markdown":
            for found in re.findall(r"^#{1,4} (.+)$", source, re.MULTILINE):
                heading = re.sub(r"[*`]", "", found)
        elif any("image/png" in output.get("data", {}) for output in cell.get("outputs", [])):
            titles = re.findall(r"""title\(?=?\s*f?["'](.+?)["']\s*[,)\n]""", source)
            words = "; ".join(titles) or heading
            cell["metadata"] = {"mystnb": {"image": {"alt": f"Figure: {words}"}}}
    return json.dumps(book, ensure_ascii=False, indent=1) + "\n"


def _course_index() -> str:
    there = LESSONS / "README.md"
    text = there.read_text(encoding="utf-8") if there.exists() else "# The course\n"
    # Links that leave the folder of the lessons have pages of their own here.
    text = text.replace("](../README.md)", "](../index.md)")
    text = text.replace("](../DEVELOPERS.md)", "](../contribute.md)")
    text = text.replace("](answers)", "](answers/index.md)")
    listed = ["\n", "```{toctree}", ":maxdepth: 1", ":glob:", ":hidden:", "", "[0-9]*"]
    if any(LESSONS.glob("answers/*.ipynb")):
        listed.append("answers/index")
    return text + "\n".join([*listed, "```", ""])


_ANSWERS = """# Worked answers

One notebook a lesson. Write your own number down first.

```{toctree}
:maxdepth: 1
:glob:

[0-9]*
```
"""


# -- directives ----------------------------------------------------------------------------------


_FIT = "this.style.height=this.contentDocument.documentElement.scrollHeight+8+'px'"


class Live(SphinxDirective):
    """A live page that a page's code left, in a frame."""

    required_arguments = 1
    option_spec: ClassVar = {
        "title": directives.unchanged_required,
        "height": directives.positive_int,
    }

    def run(self) -> list[nodes.Node]:
        """Put the whole file into the frame, so that it needs no second one."""
        path = pages.MADE / self.arguments[0]
        self.env.note_dependency(str(path))
        page = html.escape(path.read_text(encoding="utf-8"), quote=True)
        frame = (
            f'<iframe class="live" title="{html.escape(self.options["title"])}" loading="lazy" '
            f'style="height:{self.options.get("height", 640)}px" onload="{_FIT}" '
            f'srcdoc="{page}"></iframe>'
        )
        return [nodes.raw("", frame, format="html")]


class AgreementTable(SphinxDirective):
    """What was compared with what, and in how many digits it agrees."""

    def run(self) -> list[nodes.Node]:
        """Write the rows of ``agreement.json``."""
        self.env.note_dependency(str(agreement_table.KEPT))
        text = agreement_table.as_markdown(agreement_table.kept())
        return self.parse_text_to_nodes(text)


# -- formulas without a script -------------------------------------------------------------------


def _formula(self: Any, node: nodes.Node, display: str) -> None:
    source = node.astext()
    made = latex2mathml.converter.convert(source, display=display)
    made = made.replace("<math ", f'<math aria-label="{html.escape(source, quote=True)}" ', 1)
    wrap = "div" if display == "block" else "span"
    reach = ' tabindex="0"' if display == "block" else ""  # it may be wider than a phone
    self.body.append(f'<{wrap} class="formula"{reach}>{made}</{wrap}>')
    raise nodes.SkipNode


def inline_formula(self: Any, node: nodes.Node) -> None:
    """Write a formula within a line."""
    _formula(self, node, "inline")


def block_formula(self: Any, node: nodes.Node) -> None:
    """Write a formula on a line of its own."""
    _formula(self, node, "block")


# -- names in docstrings ------------------------------------------------------------------------


def resolve(app: Sphinx, env: Any, node: Any, contnode: Any) -> Any:
    """Lead ``guitarnet.layouts.NAME`` to where it is written, and an attribute to its class."""
    if node.get("refdomain") != "py":
        return None
    target = node["reftarget"].removeprefix("guitarnet.")
    if target == "layouts":
        return make_refnode(app.builder, node["refdoc"], "api/layouts", "", contnode)
    names = [f"guitarnet.circuit.layouts.{target.removeprefix('layouts.')}"]
    if "." in target:
        names.append(f"guitarnet.{target.rpartition('.')[0]}")
    objects = env.get_domain("py").objects
    for name in names:
        if name in objects:
            known = objects[name]
            return make_refnode(app.builder, node["refdoc"], known.docname, known.node_id, contnode)
    return None


# -- pictures are described ----------------------------------------------------------------------


class PicturesAreDescribed(SphinxPostTransform):
    """Every picture has words in its place; one without them is a warning."""

    default_priority = 900

    def run(self, **kwargs: Any) -> None:
        """Look at each picture of the page."""
        for image in self.document.findall(nodes.image):
            if not image.get("alt", "").strip():
                log.warning("a picture has no words in its place", location=image)


def back_from_the_source(
    app: Sphinx, page: str, template: str, context: dict[str, Any], doctree: Any
) -> None:
    """Lead from a source to each name's own page; viewcode knows one room for a whole module."""
    if page.startswith("_modules/") and "body" in context:
        context["body"] = re.sub(
            r"(generated/(guitarnet[\w.]+)\.html)#[\w.]+", r"\1#\2", context["body"]
        )


def setup(app: Sphinx) -> dict[str, Any]:
    """Tell Sphinx of all this."""
    app.connect("config-inited", gather)
    app.connect("missing-reference", resolve)
    app.connect("html-page-context", back_from_the_source)
    app.add_directive("live", Live)
    app.add_directive("agreement", AgreementTable)
    app.add_html_math_renderer("mathml", (inline_formula, None), (block_formula, None))
    app.add_post_transform(PicturesAreDescribed)
    return {"version": "1", "parallel_read_safe": True, "parallel_write_safe": True}
