"""`swathbook compare` and `swathbook trial` from end to end."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from tests.cli.conftest import visit

if TYPE_CHECKING:
    from pathlib import Path

    from tests.cli.conftest import Swathbook

LATER = "2026-11-10T18:00-06:00"


def test_compare_from_end_to_end(swathbook: Swathbook, year: Path, tmp_path: Path) -> None:
    ran = swathbook("--book", year, "--json", "find", "--target", "dandelion", "--limit", 200)
    rated = 0
    for line in ran.json["applications"]:
        done = swathbook(
            "--book", year, "rate", line["serial"], "dandelion=80", "--on", "2026-10-21T17:00", "--by", "mo"
        )
        rated += done.code == 0
    assert rated > 2
    ran = swathbook("--book", year, "compare", "dandelion", "--until-days", 140)
    assert ran.code == 0
    assert "products on dandelion" in ran.out
    assert "sites" in ran.out
    assert "days after treatment" in ran.out
    ran = swathbook("--book", year, "--json", "compare", "dandelion")
    assert ran.json["schema"] == 1
    assert ran.json["groups"]
    page, picture = tmp_path / "page.pdf", tmp_path / "curve.svg"
    assert swathbook("--book", year, "compare", "dandelion", "--out", page).code == 0
    assert page.read_bytes().startswith(b"%PDF")
    assert swathbook("--book", year, "compare", "dandelion", "--out", picture).code == 0
    assert ET.fromstring(picture.read_bytes()).tag.endswith("svg")  # noqa: S314
    ran = swathbook("--book", year, "compare", "dandelion", "--out", tmp_path / "x.doc")
    assert ran.code == 2
    assert "End it in .pdf or .svg" in ran.err
    assert not (tmp_path / "x.doc").exists()
    ran = swathbook("--book", year, "compare", "dandelion", "--until-days", 14)
    assert "final: within 14 days" in " ".join(ran.out.split())
    ran = swathbook("--book", year, "compare", "moss")
    assert ran.code == 9
    assert "nothing against 'moss' was rated" in ran.err
    assert swathbook("--book", year, "compare", "dandelion", "--paper", "b5", "--out", page).code == 2


def test_side_by_side_from_end_to_end(swathbook: Swathbook, firm: Path, tmp_path: Path) -> None:
    words = ("--site", "lark-lane-7", "--zone", "front", "--target", "ground ivy", "--layout", "left,right")
    ran = swathbook(
        "--book", firm, "trial", "new", "ivy", *words, "--blocks", 1, "--seed", 4,
        "--entry", "A=brindle-4l=1 fl oz/1000 sq ft", "--entry", "untreated",
        at="2026-10-20T08:00-05:00",
    )  # fmt: skip
    assert ran.code == 0
    assert "left" in ran.out
    assert '"plot": "ivy/' in ran.out
    listed = swathbook("--book", firm, "--json", "trial", "list").json["trials"]
    plots = {one["entry"]: one["plot"] for one in listed[0]["plots"]}
    document = visit()
    part = document["treatments"][0]
    document["treatments"] = [
        part
        | {
            "zones": ["front"],
            "area": "100 sq ft",
            "targets": ["ground ivy"],
            "plot": f"ivy/{plots['A']}",
            "products": [{"product": "brindle-4l", "rate": "1 fl oz/1000 sq ft"}],
        }
    ]
    ran = swathbook("--book", firm, "close", "-", stdin=json.dumps(document))
    assert ran.code == 0, ran.out
    ran = swathbook(
        "--book", firm, "trial", "rate", "ivy", f"{plots['A']}=85", "--count", f"{plots['B']}=20:19",
        "--on", "2026-11-03", "--by", "mo", at=LATER,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    assert "85 %" in ran.out
    ran = swathbook("--book", firm, "trial", "show", "ivy", at=LATER)
    assert "14 d 85 %" in ran.out
    assert "one site" in ran.out
    assert swathbook("--book", firm, "--json", "trial", "show", "ivy", at=LATER).json["means"][0]["looks"]
    plan = tmp_path / "plan.pdf"
    assert swathbook("--book", firm, "trial", "show", "ivy", "--out", plan, at=LATER).code == 0
    assert plan.read_bytes().startswith(b"%PDF")
    assert swathbook("--book", firm, "trial", "show", "ivy", "--out", tmp_path / "x.doc", at=LATER).code == 2
    ran = swathbook("--book", firm, "trial", "new", "oak", *words, "--blocks", 1, "--entry", "A=brindle-4l",
                    "--entry", "untreated", "--out", tmp_path / "x.doc", at=LATER)  # fmt: skip
    assert ran.code == 2
    assert "End it in .pdf or .svg" in ran.err
    ran = swathbook("--book", firm, "groups", "lark-lane-7", at=LATER)
    assert "lark-lane-7: now, up to the last visit, no group stands at three times in a row" in " ".join(
        ran.out.split()
    )
    assert "ivy" in swathbook("--book", firm, "trial", "list").out
    assert swathbook("--book", firm, "trial", "show", "oak").code == 9
