"""Questions that follow the rules of the site's state, the label and the licence; the rules stand in the packs.

Which pack asks for what is held against the published texts in `tests/rules/matrix.csv`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from records.cli.guided import confirm
from records.rules.advance_checks import untold
from tests.cli.test_guided import close

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Swathbook

    Move = Callable[..., Path]

PLACE = ["elm", "pat", "11:30", ""]
WEATHER = ["6", "nw", "61", "", ""]
END = ["", "", ""]  # no other treatment, no follow-up, no remarks
RATE = ["brindle-4l", "1.1 fl oz/M", "", ""]  # product, rate, no lot, no other product


@pytest.fixture
def elsewhere(swathbook: Swathbook, firm: Path, tmp_path: Path) -> Move:
    """Return what moves the firm to another state: a site, and people with and without a licence of it."""

    def move(state: str, *packs: str) -> Path:
        named = ", ".join(f'"{pack}"' for pack in packs)
        document = f"""
[business]
name = "Elm Row Lawns"
address = "2 Elm Row, Elmton, {state} 55290"
phone = "612-555-0142"
licence = "B-990417"
state = "{state}"
timezone = "America/Chicago"
packs = [{named}]

[[sites]]
id = "elm-row-1"
customer = "halvorsen"
address = "1 Elm Row"
city = "Elmton"
county = "Elm"
state = "{state}"
zip = "55290"
zones = [{{ id = "front", kind = "turf", turf = "kentucky bluegrass", area = "4200 sq ft" }}]

[[people]]
id = "pat"
name = "Pat Moss"
licences = [{{ number = "C-1", state = "{state}", kind = "certified", from = 2026-01-01, to = 2026-12-31 }}]

[[people]]
id = "kit"
name = "Kit Fern"
licences = [{{ number = "S-1", state = "{state}", kind = "trainee", from = 2026-01-01, to = 2026-12-31 }}]

[[people]]
id = "lou"
name = "Lou Rushton"
licences = []

[[products]]
id = "plain-2"
name = "Plain 2"
kind = "pesticide"
registration = "99999-77"
form = "liquid"
actives = [{{ name = "brindlac acid", content = "2 lb/gal", as = "ae", group = "4" }}]
"""
        path = tmp_path / "elsewhere.toml"
        path.write_text(document, "utf-8")
        ran = swathbook("--book", firm, "load", path)
        assert ran.code == 0, ran.out + ran.err
        return firm

    return move


def test_oregon_asks_for_equipment_and_takes_a_rate_for_a_dilution(swathbook: Swathbook, elsewhere: Move) -> None:
    """ORS 634.146 asks for the equipment, and for any of amount, dilution and rate (us-or)."""
    book = elsewhere("OR", "us-or")
    spot = ["", "spot", "dandelion", "", "can-1", "", "by the gate", "0.3"]
    answers = [*PLACE, "", "", *spot, "", "plain-2", "1 fl oz/gal", "", "Elm Supply", "", *END, ""]
    ran = close(swathbook, book, answers)
    assert "us-or asks for it): \n  an answer is needed here" in ran.err
    assert "dilution" not in ran.err
    assert "who sold it to you (us-or asks for it)" in ran.err
    assert "weather not noted" in ran.err


def test_the_dilution_is_asked_after_the_products(swathbook: Swathbook, elsewhere: Move) -> None:
    """Colorado asks for it outright (us-co); spray answers it, granules have none, and a rate per area does not."""
    book = elsewhere("CO", "us-co")
    treatment = ["", "b", "dandelion", "", "", "-", *RATE]
    ran = close(swathbook, book, [*PLACE, "", "", *treatment, ""])
    assert "spray put out, gal; us-co asks for it: \n  an answer is needed here" in ran.err  # a dilution is not enough
    assert ran.err.index("lot on the container") < ran.err.index("spray put out, gal; us-co asks for it")
    ran = close(swathbook, book, [*PLACE, "", "", "", "b", "dandelion", "", "", "8.4", "", *RATE, "6", "nw", "61"])
    assert "dilution" not in ran.err
    assert "another treatment" in ran.err
    rate = ["", "b", "dandelion", "spreader-1", "", "cobbet-wf", "3 lb/M", "", ""]
    ran = close(swathbook, book, [*PLACE, "", "", *rate])
    assert "dilution" not in ran.err
    assert "another treatment" in ran.err


def test_a_dilution_that_nothing_tells_is_asked_with_the_rule(swathbook: Swathbook, elsewhere: Move) -> None:
    """Maryland asks for the dilution, not for the spray (us-md): a rate per area leaves it open, one per gallon not."""
    book = elsewhere("MD", "us-md")
    place = [*PLACE, *WEATHER, "", "b", "dandelion", "", "can-1", "", "-", "plain-2"]
    ran = close(swathbook, book, [*place, "1 fl oz/M", "", "", "", "1:64"])
    assert "spray put out, gal; us-md" not in ran.err
    assert "equipment (? lists; us-md asks for it): \n  an answer is needed here" in ran.err
    assert "dilution (undiluted, or like 1:64); us-md asks for it: \n  an answer is needed here" in ran.err
    assert "another treatment" in ran.err
    ran = close(swathbook, book, [*place, "1 fl oz/gal", "", "", "1 gal"])
    assert "dilution" not in ran.err
    assert "another treatment" in ran.err


def test_texas_asks_for_the_spray(swathbook: Swathbook, elsewhere: Move) -> None:
    """4 TAC 7.33 asks for the total volume (us-tx-ag); Enter alone is no answer."""
    book = elsewhere("TX", "us-tx-ag")
    ran = close(swathbook, book, [*PLACE, *WEATHER, "", "b", "dandelion", "", "", "", "8.4", ""])
    assert (
        "spray put out, gal (us-tx-ag asks for it) (- = nothing was sprayed): \n  an answer is needed here" in ran.err
    )


def test_the_structural_rule_of_texas_asks_for_spray_of_what_was_diluted(swathbook: Swathbook, elsewhere: Move) -> None:
    """Only where the product was diluted (us-tx-structural), which is known after it."""
    book = elsewhere("TX", "us-tx-structural")
    ran = close(swathbook, book, [*PLACE, "", "", "", "b", "dandelion", "", "", "", *RATE, "", "8.4"])
    assert "spray put out, gal (Enter = none)" in ran.err
    assert "spray put out, gal; us-tx-structural asks for it: \n  an answer is needed here" in ran.err


def test_weather_that_nobody_asks_for_is_passed_over(swathbook: Swathbook, elsewhere: Move) -> None:
    """Enter twice, and nothing is recorded: Georgia has no rule on weather (us-ga), the product no label here."""
    book = elsewhere("GA", "us-ga")
    treatment = ["", "b", "dandelion", "skid-1", "", "", "", "plain-2", "1 fl oz/M", "", ""]
    ran = close(swathbook, book, [*PLACE, "", "", *treatment, "", "", "none", "", ""])
    assert "wind, mph, or all: 6 nw 61, or a METAR (0 when calm) (Enter = not noted)" in ran.err
    assert "weather not noted" in ran.err
    assert "weather" not in swathbook("--book", book, "held", "show", "1", "--json").json["document"]


def test_weather_passed_over_is_asked_when_a_label_limits_it(swathbook: Swathbook, elsewhere: Move) -> None:
    """The limit is known when the product is; then Enter is no answer any more."""
    book = elsewhere("GA", "us-ga")
    treatment = ["", "b", "dandelion", "skid-1", "", "", "", *RATE]
    ran = close(swathbook, book, [*PLACE, "", "", *treatment, "", "", *WEATHER, "", "none", "", ""])
    assert "the weather is not noted yet; asked for by the label of Brindle 4L" in " ".join(ran.err.split())
    assert (
        "wind, mph, or all: 6 nw 61, or a METAR (0 when calm; - when not measured): \n  an answer is needed here"
        in ran.err
    )
    assert ran.code == 0, ran.out + ran.err
    weather = swathbook("--book", book, "show", "2026-1", "--json").json["revisions"][0]["body"]["weather"]
    assert (weather["wind_speed"], weather["measured_at"]["local"]) == ("6 mph", "2026-10-20T11:30-05:00")


def test_kansas_asks_for_wind_with_a_liquid(swathbook: Swathbook, elsewhere: Move) -> None:
    """K.S.A. 2-2455 asks outdoors, of liquids (us-ks): the wind can be passed over until one is chosen."""
    book = elsewhere("KS", "us-ks")
    treatment = ["", "b", "dandelion", "", "", "8.4", "", "plain-2", "1 fl oz/M", "", ""]
    ran = close(swathbook, book, [*PLACE, "", "", *treatment, "", *WEATHER])
    assert "the weather is not noted yet; asked for by us-ks" in ran.err


def test_nobody_supervised_is_said_where_the_licence_wants_somebody(swathbook: Swathbook, elsewhere: Move) -> None:
    """A trainee's Enter is no answer, a dash is; who has no licence here takes Enter."""
    book = elsewhere("GA", "us-ga")
    ran = close(swathbook, book, ["elm", "kit", "", "-", "11:30"])
    assert "supervised by (- = nobody): \n  an answer is needed here" in ran.err
    assert "started" in ran.err
    ran = close(swathbook, book, ["elm", "lou", "", "11:30"])
    assert "supervised by (Enter = nobody): \n" in ran.err
    assert "an answer is needed" not in ran.err


def test_a_yes_about_people_not_told_says_what_it_states(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every person is named, and that the work was done."""
    findings = [
        {"code": "not-notified", "severity": "ask", "message": f"{who} had to be told 12 hours before the work: x"}
        for who in ("Nora Lund (registry)", "Per Berg (abutting)")
    ]
    asked: list[str] = []

    def yes(question: str) -> bool:
        asked.append(question)
        return True

    monkeypatch.setattr("records.cli.guided.yes", yes)
    assert confirm(findings) == ["not-notified"]
    told = " ".join(capsys.readouterr().err.split())
    assert "yes states: Nora Lund (registry) and Per Berg (abutting) were not told as had to be" in told
    assert asked == ["was it so?"]
    assert untold("something else") == ""


def test_a_rate_per_gallon_without_the_spray_says_that_the_spray_is_missing(
    swathbook: Swathbook, elsewhere: Move
) -> None:
    """Pennsylvania asks for the amount (us-pa); the area of described spots would not make one of such a rate."""
    book = elsewhere("PA", "us-pa")
    spot = ["", "spot", "dandelion", "can-1", "", "", "by the gate", "plain-2", "1 fl oz/gal", "", ""]
    ran = close(swathbook, book, [*PLACE, "", "", *spot, *END, ""])
    told = " ".join(ran.out.split())
    assert "without the spray put out" in told
    assert "write the spray that was put out under spray of the treatment, or the amount" in told
    assert "rate and area" not in told
    assert "held correct H-000001 --ask" in told
