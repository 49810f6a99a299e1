"""A book with everything an inspection may find, and the command line over it."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Protocol

import pytest

from records.cli.app import main
from records.cli.output import display_width
from records.clock import instant_text
from records.services.closing.service import AsApplied
from records.services.ports import StoredRevision
from records.services.sealing import sealed
from tests.bodies import application, treatment
from tests.kit import ASKED, Kit, zone_treatment
from tests.screen import Ran
from tests.storage.chain import append, visit

if TYPE_CHECKING:
    from pathlib import Path

HOSTILE = '=HYPERLINK("x")<b>Evil</b> \U0001f331 & Sons'  # what a customer may be called
STEERING = f"{HOSTILE}\x1b[31m\u202e\r\nSTOP"  # what only another program could have sealed
NOW = "2026-07-15T09:00"
_ONE_LINE = ("swathbook: ", "wrote ", "days: ", "site: ", "records: ")  # talk beside a file is one line, however long


class Swathbook(Protocol):
    """Runs one command line over the kit's book, at the kit's time."""

    def __call__(self, *words: object) -> Ran: ...


def revise(kit: Kit, serial: str, action: str, reason: str, **parts: object) -> None:
    """Seal a later revision of a record."""
    now = kit.clock.now()
    with kit.book.write() as work:
        before = work.records.revisions(serial)[-1]
        change = {"action": action, "reason": reason, "by": before.body["applicator"]}
        body = before.body | {"change": change} | parts
        previous, number, at = work.records.head(), before.revision + 1, instant_text(now)
        mark, text = sealed(previous, serial, number, at, body)
        work.records.append(StoredRevision(0, serial, number, action, at, previous, mark, body, text))
        work.commit()


def fill(kit: Kit) -> None:
    """Put in ordinary, deviating, late, amended, voided and held entries."""
    kit.load(customers=[{"id": "odd", "name": HOSTILE, "address": "=1+1"}])
    zone = {"id": "front", "kind": "turf", "turf": ["kentucky bluegrass"], "area": "4000 sq ft"}
    place = {"city": "Linden Bay", "county": "Itasca", "state": "MN", "zip": "55199", "zones": [zone]}
    kit.load(sites=[{"id": "odd-1", "customer": "odd", "address": "=1+1 Odd Row", **place}])
    kit.sealed("2026-05-04")  # 000001
    kit.sealed("2026-05-26", rate="0.5 fl oz/1000 sq ft", remarks="gate was open")  # 000002: 22 days later, same zone
    over = kit.close(
        "2026-05-27", zones=["side"], area="1000 sq ft", rate="1.2 fl oz/1000 sq ft", signed=AsApplied("ran on", "ruth")
    )
    assert over.status == "sealed", over.findings  # 000003
    kit.sealed("2026-06-01", now="2026-06-25T12:00", zones=["shade"], area="2000 sq ft")  # 000004: late
    kit.sealed("2026-06-02", site="odd-1", remarks=HOSTILE)  # 000005
    kit.sealed(
        "2026-06-03",
        zones=["side"],
        area="1000 sq ft",
        more=[{"product": "stickfast", "rate": "0.25 % v/v", "lot": "S1"}],
        spray="2 gal",
        rest=[zone_treatment(zones=["front"], method="spot", area="200 sq ft", rate="0.5 fl oz/gal", spray="0.2 gal")],
    )  # 000006
    kit.sealed(
        "2026-06-04",
        zones=["shade"],
        area="2000 sq ft",
        temperature=None,
        not_measured={"temperature": "thermometer broke"},
        confirmed=[*ASKED, "missing"],
    )  # 000007
    bare = visit(8, "2026-06-05", treatments=[treatment(applications=[application(label=None)])])
    bare["weather"] |= {"temperature": None, "wind_from": None}
    bare["packs"] = [{"id": "us-mn", "version": "1"}]
    with kit.book.write() as work:
        append(work, bare)  # 000008: as another program may have sealed it, without temperature and label
        work.commit()
    kit.set("2026-06-27T10:00")
    revise(kit, "2026-000005", "amended", STEERING, remarks=STEERING)
    revise(kit, "2026-000002", "amended", "wrong gate", remarks="gate was shut")
    revise(kit, "2026-000006", "voided", "entered twice")
    held = kit.close("2026-06-29", zones=["side"], area="1000 sq ft", rate="3 fl oz/1000 sq ft")
    assert held.status == "held"
    kit.set(NOW)


@pytest.fixture(scope="session")
def full_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a book with all of that; nobody changes it."""
    kit = Kit.at(tmp_path_factory.mktemp("inspect"))
    fill(kit)
    kit.shut()
    return kit.path


@pytest.fixture
def kit(full_book: Path, tmp_path: Path) -> Kit:
    """Return that firm in a book of its own."""
    kit = Kit(shutil.copyfile(full_book, tmp_path / "book.db"))
    kit.set(NOW)
    return kit


@pytest.fixture
def swathbook(
    kit: Kit, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Swathbook:
    """Return the command line, run in a folder of the test's own; no screen is wider than 80 columns."""
    monkeypatch.delenv("COLUMNS", raising=False)
    monkeypatch.chdir(tmp_path)

    def run(*words: object) -> Ran:
        code = main(["--book", str(kit.path), *map(str, words)], kit.clock)
        ran = Ran(code, *capsys.readouterr())
        assert "Traceback" not in ran.err
        if not ran.out.startswith("{"):
            said = [*ran.out.splitlines(), *(line for line in ran.err.splitlines() if not line.startswith(_ONE_LINE))]
            assert not [line for line in said if display_width(line) > 80]
        return ran

    return run
