"""The job card: one page, nothing from outside, user text as text, written whole or not at all."""

from __future__ import annotations

import base64
import importlib.util
import re
import sys
from html import unescape

import pytest
from conftest import missing

from guitarnet import Capacitor, Coil, Humbucker, Pickup, Switch, layouts
from guitarnet.errors import BadFile, BadHarness, BadSetting, NotInstalled
from guitarnet.show.card.card import job_card
from guitarnet.show.card.content import content
from guitarnet.study.bench.ohmmeter import Ohmmeter

PICKUP = Pickup("6.2k", "2.4 H", "120p")
COIL = Coil("4k", "2 H", "150p")
HOSTILE = "<script>alert(1)</script> {{7*7}} $x$"


def three(**values):
    pickups = (
        Pickup("6k", "2.3 H", "120p"),
        Pickup("6.2k", "2.4 H", "120p", winding=-1, magnet=-1),
        Pickup("6.8k", "2.9 H", "120p"),
    )
    return layouts.three_single_coils(*pickups, **{"treble_bleed": "150k || 1n", **values})


def two(**values):
    pickup = Humbucker(COIL, COIL)
    return layouts.two_humbuckers(pickup, pickup, treble_bleed="1n", **values)


@pytest.fixture(scope="session", autouse=True)
def libraries():
    """What every card needs."""
    if importlib.util.find_spec("schemdraw") is None:
        missing("schemdraw")


@pytest.fixture(scope="session")
def pdf():
    """What every PDF needs, and a reader of PDFs."""
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError):
        missing("weasyprint with its system libraries")
    if importlib.util.find_spec("pypdf") is None:
        missing("pypdf")
    from pypdf import PdfReader

    return PdfReader


def page_of(guitar, folder, **how):
    return job_card(guitar, folder / "card.html", **how).read_text(encoding="utf-8")


def words_on(page):
    """The page's words, without pictures, sheet and tags."""
    body = re.sub(r"data:[^\"]*", "", page.partition("<body>")[2])
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", body)).split())


@pytest.fixture(scope="module")
def cards(tmp_path_factory):
    """Cards that several tests read, each made once; what stands in the head of one is given."""
    folder = tmp_path_factory.mktemp("cards")
    head = {"date": "1 March", "by": "A. B.", "number": "7", "notes": "one\ntwo"}
    return {
        "three": job_card(three(name="bench guitar"), folder / "three.html"),
        "two": job_card(two(), folder / "two.html", **head),
    }


@pytest.fixture(scope="module")
def card(cards):
    return cards["three"].read_text(encoding="utf-8")


# By hand: DCR of what is selected, in parallel with each other and with 250 kOhm of the volume pot
# (the bleed lies across two lugs that touch at 10); lowest and highest with coils -5 and +5 %, pot
# -20 and +20 %. To three digits.
READINGS = {
    "neck": ("5.86 kΩ", "5.54 kΩ", "6.17 kΩ"),  # 6 || 250
    "neck+middle": ("3.01 kΩ", "2.86 kΩ", "3.17 kΩ"),  # 6 || 6.2 || 250
    "middle": ("6.05 kΩ", "5.72 kΩ", "6.37 kΩ"),
    "middle+bridge": ("3.2 kΩ", "3.03 kΩ", "3.37 kΩ"),
    "bridge": ("6.62 kΩ", "6.26 kΩ", "6.97 kΩ"),
}


# -- what stands on it ----------------------------------------------------------------------------


def test_the_readings_by_hand(card):
    """With room for the measured value beside each."""
    rows = re.findall(
        r"<tr><td>([^<]*)</td><td class=\"whole\"><b>([^<]*)</b></td><td class=\"whole\">([^<]*)"
        r"</td><td class=\"whole\">([^<]*)</td><td class=\"write\"></td></tr>",
        card,
    )
    assert {row[0]: row[1:] for row in rows} == READINGS


def test_the_joints_are_those_of_the_list(card):
    words = words_on(card)
    for _, number, step, lugs, leads, wire in three().joints():
        for words_of_row in filter(None, (number, step, lugs, leads, wire)):
            assert words_of_row in words


def test_the_parts_like_ones_together(card):
    words = words_on(card)
    assert "volume, tone 1, tone 2 250 kΩ, audio 15% 250K ±20 %" in words
    assert "tone capacitor 22 nF 223 ±10 %" in words
    assert "treble bleed capacitor 1 nF 102 ±10 %" in words
    assert "switch five-way lever, 5 places" in words
    assert "Tolerances are the usual ones of each kind." in words


def test_what_the_figure_states(card):
    words = words_on(card)
    assert "Response in each place of the switch" in words
    assert "Level re 1 V/V at the amp tip, 1 V induced in each coil; knobs all at 10" in words
    assert "lossless coil assumed" in words


def test_the_cautions(card):
    words = words_on(card)
    for caution in (
        "Unplug the guitar from everything",
        "lethal voltage",
        "mains earth must be intact",
        "Local electrical codes",
        "goggles",
    ):
        assert caution in words


@pytest.mark.parametrize(
    ("guitar", "there", "not_there"),
    [
        # Facts of the trade: common practice, no source.
        ("three", ["Phase", "screwdriver", "Magnet polarity", "Compass", "Tap test", "capacitor's "
                   "value", "Modern or 50s", "Hot and sleeve"], ["passes no direct"]),
        ("two", ["Neck bleed and bridge bleed (passes no direct current)"], []),
        (layouts.one_pickup(PICKUP, treble_bleed="1.2n + 130k"),
         ["Treble bleed (passes no direct current)"], ["Phase", "Tap test"]),
        (layouts.one_pickup(PICKUP, tone=None), ["Hot and sleeve"],
         ["Modern or 50s", "capacitor's value"]),
        (layouts.pickup_alone(Humbucker(COIL, COIL)), ["Phase", "Magnet polarity"], ["Tap test"]),
    ],
    ids=["three", "two", "series bleed", "no tone", "alone"],
)  # fmt: skip
def test_what_the_ohmmeter_cannot_see(guitar, there, not_there, cards, tmp_path):
    shared = isinstance(guitar, str)
    page = cards[guitar].read_text("utf-8") if shared else page_of(guitar, tmp_path)
    words = words_on(page)
    for said in there:
        assert said in words
    for said in not_there:
        assert said not in words


@pytest.mark.long
def test_a_switch_that_changes_nothing_there_is_not_named(tmp_path):
    """Two pulls and a toggle make 12 places, of which 8 differ for the meter."""
    leads = Humbucker(COIL, COIL, connection="leads")
    page = page_of(layouts.two_humbuckers_push_pull(leads, leads), tmp_path)
    test = "kicks of opposite ways mean bobbins wound alike, whose finishes are joined"
    assert test in " ".join(words_on(page).split())
    places = re.findall(r"<tr><td>([^<]*)</td><td class=\"whole\"><b>", page)
    assert len(places) == len(set(places)) == 8
    assert "neck, neck volume pull both coils" in places
    assert "bridge, bridge volume pull coil 1" in places


def test_the_meter_and_the_temperature_count(tmp_path):
    """Copper at 30 °C reads 3.93 % more; the meter's limits widen the range."""
    alone = layouts.pickup_alone(Pickup("10k", "4 H", "100p"))
    page = page_of(alone, tmp_path, coil_temperature=30, meter=Ohmmeter("1%", floor=10, leads=0))
    assert "<b>10.4 kΩ</b>" in page
    assert "9.76 kΩ" in page  # 10 k less 5 %, warm, less 1 % and 10 ohm
    assert "Coils at 30 °C" in page
    assert "Meter: ±(1 %" in page


def test_the_head_is_for_a_pencil_unless_given(card, cards):
    assert re.findall(r"<dt>([^<]*)</dt><dd>([^<]*)</dd>", card) == [
        ("Date", ""), ("Done by", ""), ("Guitar no.", ""),
    ]  # fmt: skip
    given = cards["two"].read_text(encoding="utf-8")
    assert "<dd>1 March</dd>" in given
    assert "<dd>A. B.</dd>" in given
    assert "<dd>7</dd>" in given
    assert '<p class="notes">one\ntwo</p>' in given


def test_sources_and_stated_tolerances(tmp_path):
    capacitor = Capacitor("21n", tolerance="5%", source="measured at the bench")
    words = words_on(page_of(three(tone_capacitor=capacitor), tmp_path))
    assert "tone capacitor 21 nF 22 nF, 223 ±5 %" in words
    assert "volume, tone 1, tone 2 250 kΩ, audio 15% 250K ±20 % usual" in words
    assert "tone capacitor: measured at the bench." in words
    assert "buy, marking" in words


# -- self-contained, harmless, the same each time -------------------------------------------------


def test_nothing_is_fetched(card):
    """Every reference is data in the page; names of XML vocabularies are not references."""
    assert set(re.findall(r"(?:src|href)=\"([^\"]{5})", card)) == {"data:"}
    assert "url(" not in card
    assert "@import" not in card
    assert "<script" not in card
    pictures = [
        base64.b64decode(code).decode()
        for code in re.findall(r"data:image/svg\+xml;base64,([^\"]*)", card)
    ]
    assert len(pictures) == 3
    for picture in pictures:
        assert "<svg" in picture
        references = re.findall(r"(?:href|src)=\"([^\"]*)\"|url\(([^)]*)\)", picture)
        assert all((one or other).startswith("#") for one, other in references)


@pytest.mark.long
def test_user_text_stays_text(tmp_path):
    lever = three().parts["switch"]
    contacts = [(HOSTILE if place == "neck" else place, touch) for place, touch in lever.contacts]
    guitar = three(name=HOSTILE, tone_capacitor=Capacitor("22n", source=HOSTILE)).replace(
        "switch", Switch(contacts, lever.all_lugs, kind=HOSTILE)
    )
    page = page_of(guitar, tmp_path, date=HOSTILE, by=HOSTILE, number=HOSTILE, notes=HOSTILE)
    assert "<script" not in page
    escaped = "&lt;script&gt;alert(1)&lt;/script&gt; {{7*7}} $x$"
    # Title, heading, alternative text, date, name, number, notes, source, place and kind.
    assert page.count(escaped) >= 9
    assert words_on(page).count(HOSTILE) >= 8


def test_the_same_guitar_gives_the_same_page(card, tmp_path):
    assert page_of(three(name="bench guitar"), tmp_path) == card


# -- on paper -------------------------------------------------------------------------------------


def check_paper(pages, size):
    box = pages[0].mediabox
    assert (box.width / 72 * 25.4, box.height / 72 * 25.4) == pytest.approx(size, abs=0.1)


def test_the_pdf_is_the_bench_picture_and_one_page(pdf, tmp_path):
    """On its paper, with the readings as text; on the other paper a browser prints one, below."""
    pages = pdf(job_card(three(), tmp_path / "card.pdf")).pages
    assert len(pages) == 2
    check_paper(pages, (210, 297))  # ISO 216
    assert "Seen from behind, the side you solder on" in pages[0].extract_text()
    words = " ".join(pages[1].extract_text().split())
    for place, readings in READINGS.items():
        assert f"{place} {' '.join(readings)}" in words
    assert "Through the string ground the player is part of the circuit" in words


@pytest.mark.long
def test_a_long_card_takes_several_pages(pdf, tmp_path):
    """And says all: nothing is cut off."""
    notes = "\n".join(f"line {n}." for n in range(60))
    pages = pdf(job_card(two(), tmp_path / "card.pdf", notes=notes, paper="Letter")).pages
    assert len(pages) > 2
    check_paper(pages, (215.9, 279.4))  # ANSI Y14.1
    words = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "neck 7.87 kΩ 7.46 kΩ 8.28 kΩ" in words
    assert "line 59." in words
    assert "lethal voltage" in words


@pytest.mark.long
def test_a_browser_prints_the_bench_picture_and_one_page(browser, cards, pdf, tmp_path):
    """On both papers, and fetches nothing."""
    paths = cards["three"], job_card(two(), tmp_path / "two.html")
    fetched, said = [], []
    page = browser.new_page()
    page.on("request", lambda request: fetched.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    for path in paths:
        page.goto(path.as_uri())
        for paper in ("A4", "Letter"):
            page.pdf(path=str(tmp_path / "printed.pdf"), format=paper)
            assert len(pdf(tmp_path / "printed.pdf").pages) == 2, (path.name, paper)
    page.close()
    assert [url for url in fetched if not url.startswith("data:")] == [p.as_uri() for p in paths]
    assert said == []


# -- what is refused, and what is missing ---------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "how", "message"),
    [
        ("card.docx", {}, "card.docx: a job card cannot end in '.docx'; end it in .html or .pdf."),
        ("card", {}, "card: has no ending; end it in .html or .pdf."),
        ("card.html", {"paper": "A5"}, "paper: 'A5' is unknown; use 'A4' or 'Letter'."),
    ],
)
def test_refused(name, how, message, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadSetting) as refusal:
        job_card(two(), name, **how)
    assert str(refusal.value) == message
    assert list(tmp_path.iterdir()) == []


def test_an_unfinished_guitar_leaves_the_old_card_alone(tmp_path):
    old = tmp_path / "card.html"
    old.write_text("old", encoding="utf-8")
    with pytest.raises(BadHarness, match=r"^spare\.a: is not joined to anything"):
        job_card(two().add("spare", Capacitor("1n")), old)
    assert old.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [old]


def test_a_folder_that_cannot_be(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(BadFile, match="cannot be written"):
        job_card(layouts.pickup_alone(PICKUP), tmp_path / "file" / "card.html")


def test_without_weasyprint_the_html_goes_on_working(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(NotInstalled) as refusal:
        job_card(layouts.pickup_alone(PICKUP), tmp_path / "card.pdf")
    assert str(refusal.value) == (
        "job_card: a PDF needs WeasyPrint and, of the system, Pango, and one of them is not "
        "installed; pip install 'guitarnet[cards]', or end the path in .html and print that."
    )
    assert list(tmp_path.iterdir()) == []
    assert job_card(layouts.pickup_alone(PICKUP), tmp_path / "card.html").exists()


def test_without_schemdraw_the_card_says_so(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "schemdraw", None)
    page = page_of(layouts.pickup_alone(PICKUP), tmp_path)
    said = r"There is no schematic on this card: [^.]*schemdraw[^.]* not installed; [^.]*\."
    assert re.search(said, words_on(page))
    assert page.count("data:image/svg") == 2


def test_two_volumes_without_a_switch_are_verified_one_by_one():
    """With the other volume at 0 each pickup is read alone, through its own pot."""
    neck, bridge = Pickup("7.6k", "3 H", "120p"), Pickup("8k", "3 H", "120p")
    guitar = layouts.bass_two_volumes(neck, bridge)
    rows = content(guitar)["readings"]["rows"]
    assert [row[0] for row in rows] == ["all at 10", "neck volume 0", "bridge volume 0"]
    for row, alone in zip(rows[1:], (8e3, 7.6e3), strict=True):
        # The pot at 0 shorts its pickup and leaves 250 kΩ across the other, beside its own pot.
        ohms = 1 / (1 / alone + 2 / 250e3)
        assert row[1] == f"{ohms / 1e3:.2f} kΩ"
