"""What a figure shows, as data of its Axes, and thumbnails for a person to look over."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from .record import GOLDENS, slug

__all__ = ["PICTURES", "collecting", "compared", "drawn", "keep"]

PICTURES = GOLDENS / "pictures"
LOOK = 0.05
"""Mean difference of grey, of 1, above which a picture is worth a look."""
_WIDE, _COMPARED, _POINTS = 300, 64, 9

_collected: dict[str, bytes] | None = None
_current = ""


@contextmanager
def collecting(name: str, into: dict[str, bytes] | None) -> Iterator[None]:
    """Keep thumbnails of what an ability draws, or none."""
    global _collected, _current
    _collected, _current = into, name
    try:
        yield
    finally:
        _collected = None


def drawn(axes: Any, *, ticks: bool = False, name: str = "") -> dict[str, Any]:
    """Say what a figure shows: words, axes, and each line at nine places along it.

    ``axes`` is one of its Axes, an array of them, or the figure, which is closed. With a ``name`` a
    thumbnail is kept as well.
    """
    import matplotlib.pyplot as plt

    first = np.ravel(np.asarray(axes, dtype=object))[0]
    figure = first if hasattr(first, "axes") and isinstance(first.axes, list) else first.figure
    if ticks:
        figure.canvas.draw()
    found: dict[str, Any] = {
        "size in inches": [float(one) for one in figure.get_size_inches()],
        "words": sorted(t.get_text() for t in figure.texts if t.get_text()),
        "axes": [_axes(one, ticks) for one in figure.axes],
    }
    if figure.get_suptitle():
        found["title"] = figure.get_suptitle()
    if name and _collected is not None:
        label = f"{_current} {name}"
        stream = io.BytesIO()
        figure.savefig(stream, format="png", dpi=2 * _WIDE / figure.get_figwidth())
        _collected[label] = _thumbnail(stream.getvalue())
    plt.close(figure)
    return found


def _axes(ax: Any, ticks: bool) -> dict[str, Any]:
    titles = {where: ax.get_title(loc=where) for where in ("left", "center", "right")}
    legend = ax.get_legend()
    # What the layout leaves out is the grid.
    shapes = [one for one in [*ax.collections, *ax.patches] if one.get_in_layout()]
    found = {
        "title": " | ".join(words for words in titles.values() if words),
        "x": ax.get_xlabel(),
        "y": ax.get_ylabel(),
        "scales": f"{ax.get_xscale()}, {ax.get_yscale()}",
        "limits": [float(one) for one in (*ax.get_xlim(), *ax.get_ylim())],
        "legend": [text.get_text() for text in legend.get_texts()] if legend else [],
        "texts": sorted(text.get_text() for text in ax.texts if text.get_text()),
        "lines": [_line(line, ax.get_xscale() == "log") for line in ax.lines],
        "shapes": dict(sorted(Counter(type(one).__name__ for one in shapes).items())),
    }
    if ticks:
        found["ticks"] = [
            [text.get_text() for text in axis.get_ticklabels() if text.get_text()]
            for axis in (ax.xaxis, ax.yaxis)
        ]
    return {key: value for key, value in found.items() if value not in ("", [], {})}


def _line(line: Any, logarithmic: bool) -> dict[str, Any]:
    """Nine points of a line: by interpolation where it runs one way, so that no grid shows."""
    x, y = (np.asarray(data, dtype=float) for data in line.get_data())
    label = line.get_label()
    found = {} if label.startswith("_") else {"label": label}
    if len(x) > _POINTS and np.all(np.diff(x) > 0) and np.isfinite(y).all():
        space = np.geomspace if logarithmic and x[0] > 0 else np.linspace
        at = space(x[0], x[-1], _POINTS)
        x, y = at, np.interp(at, x, y)
    elif len(x) > _POINTS:
        kept = np.linspace(0, len(x) - 1, _POINTS).round().astype(int)
        x, y = x[kept], y[kept]
    return {**found, "at": x.tolist(), "is": y.tolist()}


def _thumbnail(picture: bytes) -> bytes:
    from PIL import Image

    with Image.open(io.BytesIO(picture)) as image:
        small = image.convert("RGB")
        small = small.resize((_WIDE, max(1, round(small.height * _WIDE / small.width))))
        stream = io.BytesIO()
        small.quantize(16).save(stream, "PNG", optimize=True)
    return stream.getvalue()


def keep(pictures: dict[str, bytes], folder: Path = PICTURES) -> None:
    """Write thumbnails by the slug of their names."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, picture in pictures.items():
        (folder / f"{slug(name)}.png").write_bytes(picture)


def compared(pictures: dict[str, bytes]) -> list[str]:
    """Names of pictures that are worth a look: new ones, and those that look otherwise."""
    found = []
    for name, picture in pictures.items():
        path = PICTURES / f"{slug(name)}.png"
        if not path.exists():
            found.append(f"{name}: no picture was kept")
            continue
        was, now = _grey(path.read_bytes()), _grey(picture)
        off = float(np.abs(was - now).mean()) if was.shape == now.shape else 1.0
        if off > LOOK:
            found.append(f"{name}: {off:.0%} of grey apart")
    return found


def _grey(picture: bytes) -> np.ndarray:
    from PIL import Image

    with Image.open(io.BytesIO(picture)) as image:
        tall = max(1, round(image.height * _COMPARED / image.width))
        return np.asarray(image.convert("L").resize((_COMPARED, tall)), dtype=float) / 255
