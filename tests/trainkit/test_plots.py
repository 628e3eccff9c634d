"""Plots: their curves against the mechanics by another way, their words, and their look on a page."""

from __future__ import annotations

import math
import re
import subprocess
import sys
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from trainkit import packs, plots, workbook
from trainkit.errors import ItemError
from trainkit.packs import Pack
from trainkit.plots.curves import DRY, OILED

START = Path(__file__).parent / "plain_engine.toml"


@pytest.fixture(params=["dunlin", START], ids=["dunlin", "start"])
def pack(request: pytest.FixtureRequest) -> Pack:
    return packs.load(request.param)


def test_preload_goes_as_torque_over_nut_factor_and_diameter() -> None:
    pack = packs.load("dunlin")
    plot = plots.plot("preload", pack)
    dry, oiled = plot.panels[0].curves
    bolts = pack.fastener("flange-bolts")
    assert bolts.final.torque is not None
    assert (bolts.thread, bolts.final.torque[0]) == ("M10", "44 N·m")
    for curve, factor in ((dry, DRY), (oiled, OILED)):
        torque, force = curve.x[-1], curve.y[-1]
        assert force == pytest.approx(torque / (factor * 10))  # with d in mm, N·m give kN
        assert (curve.x[0], curve.y[0]) == (0.0, 0.0)
    # 58.0 mm² times 580 MPa, ISO 898-1 for M10 of class 8.8.
    assert plot.panels[0].lines[0].at == pytest.approx(58.0 * 0.58, rel=0.002)
    assert "22.0\u2009kN" in plot.words[0]
    assert "29.3\u2009kN" in plot.words[0]


def test_the_pull_is_the_sum_of_arrows(pack: Pack) -> None:
    from trainkit import roles

    pattern = roles.joint(pack).pattern
    plot = plots.plot("moment", pack)
    radius = max(math.hypot(x, y) for x, y in pattern.points)
    where = dict(zip(pattern.names, pattern.points, strict=True))
    for curve, order in zip(plot.panels[0].curves, (pattern.best_order(), pattern.names), strict=True):
        for number, pull in enumerate(curve.y, start=1):
            x = sum(where[name][0] for name in order[:number])
            y = sum(where[name][1] for name in order[:number])
            assert pull == pytest.approx(math.hypot(x, y) / radius, abs=1e-9)


def test_marks_go_round_by_the_teeth(pack: Pack) -> None:
    plot = plots.plot("marks", pack)
    turned = pack.train.turn(pack.crank, 1, seen_from="front")
    by_name = {gear.name: abs(Fraction(turned.degrees(gear.id))) for gear in pack.gears}
    for panel in plot.panels:
        rate = float(by_name[panel.y_name])
        (curve,) = panel.curves
        for (x0, y0), (x1, y1) in pairwise(zip(curve.x, curve.y, strict=True)):
            if not math.isnan(y0) and not math.isnan(y1):
                assert (y1 - y0) == pytest.approx((x1 - x0) * rate)
        for point in panel.points:
            assert (point.x * rate) % 360 == pytest.approx(0, abs=1e-6)
    # At the end every mark is back.
    assert all(panel.points[-1].x == pytest.approx(plot.x_range[1]) for panel in plot.panels)


@pytest.mark.parametrize("name", plots.PLOTS)
def test_a_plot_is_a_picture_of_the_page(name: str, pack: Pack) -> None:
    plot = plots.plot(name, pack)
    tree = ET.fromstring(plot.svg)  # noqa: S314 - our own drawing
    assert tree.get("role") == "img"
    assert tree.get("aria-label") == " ".join((f"{plot.title}.", *plot.words))
    # No colour but the page's own, so that it can be read in both themes.
    assert not re.search(r"#[0-9a-fA-F]{6}\b", re.sub(r'(xlink:)?href="[^"]*"|url\([^)]*\)', "", plot.svg))
    assert "http" not in plot.svg.replace("http://www.w3.org/", "")
    said = {"".join(node.itertext()) for node in tree.iter("text")}
    assert plot.x_name in said
    bundle = plot._repr_mimebundle_()
    assert bundle["text/plain"] == str(plot)
    assert plot.words[-1].split(".")[0] in bundle["text/html"]


@pytest.mark.parametrize("name", plots.PLOTS)
def test_two_plots_share_no_identifier(name: str) -> None:
    pack = packs.load("dunlin")
    first, second = (set(re.findall(r'\bid="([^"]+)"', plots.plot(name, pack).svg)) for _ in range(2))
    assert first.isdisjoint(second)


def test_words_stand_alone_where_matplotlib_is_missing() -> None:
    code = (
        "import sys; sys.modules['matplotlib'] = None\n"
        "from trainkit import packs, plots\n"
        "plot = plots.plot('preload', packs.load('dunlin'))\n"
        "print(plot.svg == '', plot.words[0] in plot._repr_mimebundle_()['text/html'])"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.split() == ["True", "True"]


def test_matplotlib_is_loaded_only_for_a_plot() -> None:
    code = (
        "import sys\nfrom trainkit import packs, plots, workbook\nplots.plot('marks', packs.load('dunlin'))\n"
        "print('matplotlib' in sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "False"


def test_the_door_gives_plots(tmp_path: Path) -> None:
    book = workbook.open("tightening", tmp_path)
    assert book.plot("moment").title.startswith("The pull to one side")
    with pytest.raises(ItemError, match="The plots are preload, moment, marks"):
        book.plot("else")
