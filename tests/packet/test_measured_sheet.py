"""What the last sheet asks to measure: walls where they are worked, not where a web stands behind them."""

from types import SimpleNamespace

from sparwright.job.reading import load_job
from sparwright.packet.figures import METRIC
from sparwright.packet.measured_sheet import measured_sheet
from sparwright.stock.member import build_member


def test_walls_are_told_beside_the_web_and_skins_from_end_to_end(examples):
    member = build_member(load_job(examples / "webbed-rail" / "job.toml"))
    told = measured_sheet(SimpleNamespace(member=member, expected=()), METRIC)
    walls = {what.split(",")[0]: size for what, size in told["stock_rows"]}
    assert walls["wall at face top"] == walls["wall at face bottom"] == "4 mm"
    skins = [where for where, _ in told["skins"]]
    assert len(skins) == 3
    assert skins[0].startswith("comb/top/r1c01")
