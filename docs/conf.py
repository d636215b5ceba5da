"""How the site is built: ``python -m sphinx -W --keep-going docs docs/_build/html``."""

from __future__ import annotations

import sys
from pathlib import Path

DOCS = Path(__file__).resolve().parent
sys.path[:0] = [str(DOCS), str(DOCS / "_ext")]

import guitarnet  # noqa: E402

project = "guitarnet"
author = "the guitarnet developers"
project_copyright = author
version = release = guitarnet.__version__

extensions = [
    "sphinx.ext.autodoc",
    "sphinx.ext.autosummary",
    "sphinx.ext.viewcode",
    "numpydoc",
    "myst_nb",
    "sphinx_design",
    "site_parts",
]
exclude_patterns = ["_build", "_made", "_ext", "_cautions.md"]
templates_path = ["_templates"]
nitpicky = True
# Other libraries' names: their pages are on the network, and this is built without it.
nitpick_ignore_regex = [(r"py:.*", r"(xarray|numpy|scipy|matplotlib|dask|sympy|distributed)\..*")]

# Notebooks are shown as they are stored; a test executes them.
nb_execution_mode = "off"
nb_merge_streams = True
myst_enable_extensions = ["colon_fence", "deflist", "dollarmath", "attrs_block", "attrs_inline"]
myst_heading_anchors = 3
myst_links_external_new_tab = False

autosummary_generate = True
autodoc_typehints = "none"  # the docstrings say it, with units
autodoc_member_order = "bysource"
numpydoc_show_class_members = False  # the template lists methods
numpydoc_class_members_toctree = False
numpydoc_xref_param_type = False
default_role = "py:obj"
add_module_names = False
python_use_unqualified_type_names = True
toc_object_entries = False

html_theme = "pydata_sphinx_theme"
html_title = "guitarnet"
html_static_path = ["_static"]
html_css_files = ["site.css"]
html_js_files = ["site.js"]
html_math_renderer = "mathml"
html_copy_source = False
html_show_sourcelink = False
html_sidebars = {
    page: []
    for page in [
        "index",
        "start",
        "gallery",
        "glossary",
        "computes",
        "checked",
        "limits",
        "changelog",
    ]
}
html_theme_options = {
    "logo": {"text": "guitarnet"},
    "navbar_align": "left",
    "navbar_end": ["theme-switcher"],
    "navbar_persistent": ["search-button"],
    "header_links_before_dropdown": 8,
    "show_prev_next": True,
    "secondary_sidebar_items": ["page-toc"],
    "footer_start": ["copyright"],
    "footer_end": [],
    "show_toc_level": 2,
    "navigation_with_keys": False,
    "pygments_light_style": "a11y-high-contrast-light",
    "pygments_dark_style": "a11y-high-contrast-dark",
}
