"""The live page as a control in a notebook: what it says to Python, and what it takes from it."""

from __future__ import annotations

import base64
import json
import subprocess
import sys

import pytest

import guitarnet as gn
from guitarnet.show.page.html_view import asset


@pytest.fixture(scope="module")
def guitar():
    pickup = gn.Pickup("6.2k", "2.4 H", "120p")
    return gn.layouts.two_single_coils(pickup, pickup)


@pytest.fixture
def control(guitar):
    return gn.pages.knobs(guitar, {"volume": 5})


def moved(control, **changes):
    """Settings as the page sends them."""
    control._settings = {**control._settings, **changes}


def test_the_value_is_what_response_takes(control, guitar):
    assert control.value == {
        "volume": 5.0,
        "tone": 10.0,
        "switch": guitar.parts["switch"].place,
        "cable.length": 3.0,
    }
    moved(
        control,
        bleeds={"treble_bleed": {"form": "parallel", "c": 1e-9, "r": 150e3}},
        capacitors={"tone_capacitor": 47e-9},
    )
    assert control.value["treble_bleed"] == gn.parallel_bleed("1n", "150k")
    mine = gn.response(guitar, **control.value)
    same = gn.response(
        guitar.replace("tone_capacitor", "47n").replace(
            "treble_bleed", gn.parallel_bleed("1n", "150k")
        ),
        volume=5,
    )
    assert abs(mine - same).max() < 1e-12


@pytest.mark.parametrize(
    ("at", "part"),
    [
        ({"form": "none"}, None),
        ({"form": "c", "c": 680e-12, "r": 1e5}, gn.Capacitor("680p")),
        ({"form": "series", "c": 1.2e-9, "r": 130e3}, gn.series_bleed("1.2n", "130k")),
    ],
)
def test_every_form_of_bleed(control, at, part):
    moved(control, bleeds={"treble_bleed": at})
    assert control.value["treble_bleed"] == part


def test_python_turns_the_knobs(control):
    seen = []
    control.observe(lambda change: seen.append(change["new"]["tone"]), "value")
    control.turn({"tone": 3, "switch": "bridge", "cable": 6})
    assert seen == [3.0]
    assert control.value["switch"] == "bridge"
    assert control.value["cable.length"] == 6.0
    with pytest.raises(gn.errors.BadSetting) as refused:
        control.turn(tome=3)
    assert str(refused.value) == "knobs: there is no control 'tome'; did you mean 'tone'?"


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"tone": 11}, "knobs.tone: 11 is too large; give a value from 0 to 10."),
        ({"switch": "brige"}, "knobs.switch: there is no 'brige'; did you mean 'bridge'?"),
    ],
)
def test_what_no_control_can_do_is_refused(control, wrong, words):
    before = control.value
    with pytest.raises(gn.GuitarnetError) as refused:
        control.turn(**wrong)
    assert str(refused.value) == words
    assert control.value == before


NOTEBOOK = [
    "import guitarnet as gn\n"
    "guitar = gn.layouts.one_pickup(gn.Pickup('6.2k', '2.4 H', '120p'))\n"
    "turned, left = gn.pages.knobs(guitar, volume=10), gn.pages.knobs(guitar, volume=10)\n"
    "def picture(**at): return gn.plot_response(gn.response(guitar, **at))\n"
    "turned",
    "turned.follow(picture)",
    "left.follow(picture)",
    "turned.follow(lambda **at: gn.sweeps.response_table(gn.response(guitar, **at)))",
    "turned.turn(volume=0)",
]


RUN = """
import json, sys
import nbclient, nbformat
cells = [nbformat.v4.new_code_cell(cell) for cell in json.load(sys.stdin)]
client = nbclient.NotebookClient(
    nbformat.v4.new_notebook(cells=cells), timeout=60, store_widget_state=True,
    shutdown_kernel="immediate",
)
client.execute()
json.dump([state["outputs"] for state in client.widget_state.values() if state.get("outputs")],
          sys.stdout)
"""


@pytest.mark.long
def test_what_stands_in_a_following_cell_follows():
    """A figure and a table of a control that was turned, and the figure of one that was not."""
    # In a process of its own: beside event loops of other tests the client waits for a minute.
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", RUN],
        input=json.dumps(NOTEBOOK),
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    [silent], [loud], [table] = json.loads(done.stdout)
    for picture in (silent, loud):
        assert base64.b64decode(picture["data"]["image/png"])[:4] == b"\x89PNG"
    assert silent["data"]["image/png"] != loud["data"]["image/png"]
    assert "silent" in table["data"]["text/plain"]


PAGE = """<!DOCTYPE html><html lang="en"><title>A cell</title><div id="cell"></div>
<script type="module">
%s
const held = %s, watched = {};
window.sent = [];
const model = {
  get: (name) => held[name],
  set: (name, value) => { held[name] = value; },
  save_changes: () => window.sent.push(structuredClone(held._settings)),
  on: (name, f) => { watched[name] = f; },
  off: (name) => { delete watched[name]; },
};
window.fromPython = (settings) => { held._settings = settings; watched["change:_settings"](); };
const gone = render({ model, el: document.getElementById("cell") });
window.remove = () => { gone(); return Object.keys(watched); };
</script></html>"""


def test_in_a_browser_both_ways(visit, control, tmp_path):
    """The script of the control against a model that holds what a kernel would."""
    held = {name: getattr(control, name) for name in ("_page", "_name", "_settings")}
    text = json.dumps(held).replace("<", "\\u003c")
    script = asset("knobs.js").replace("export default { render };", "")
    (tmp_path / "cell.html").write_text(PAGE % (script, text), encoding="utf-8")
    page = visit(tmp_path / "cell.html")
    frame = page.frame_locator("iframe")
    knob = frame.get_by_label("tone", exact=True)
    knob.press("ArrowLeft")
    page.wait_for_function("window.sent.length > 0")
    sent = page.evaluate("window.sent.at(-1)")
    assert 9 < sent["marks"]["tone"] < 10
    assert sent["marks"]["volume"] == 5
    count = page.evaluate("window.sent.length")
    wanted = {**sent, "marks": {"volume": 2, "tone": 4}}
    page.evaluate("settings => window.fromPython(settings)", wanted)
    assert float(knob.input_value()) == 4
    assert page.evaluate("window.sent.length") == count  # no echo
    assert page.evaluate("window.remove()") == []
