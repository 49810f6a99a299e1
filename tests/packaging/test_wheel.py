"""The wheel, installed alone, works away from the checkout."""

import os
import subprocess
import sys
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FONTS = ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf", "OFL.txt")


def run(command: list[str], cwd: Path) -> str:
    """Run a command with nothing of this environment leaking in and return what it printed."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("PYTHON", "SWATHBOOK_", "COV", "VIRTUAL_ENV"))
    }
    done = subprocess.run(command, cwd=cwd, env=kept, capture_output=True, text=True, check=False, timeout=240)
    assert done.returncode == 0, f"{command}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def build_wheel(target: Path) -> Path:
    """Build the wheel of the checkout with the tools that are here already."""
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(target)]
    run([*command, str(ROOT)], ROOT)
    (wheel,) = target.glob("swathbook-*.whl")
    return wheel


def install_alone(wheel: Path, environment: Path) -> Path:
    """Install the wheel and its own dependencies in a fresh environment; return its commands."""
    venv.create(environment, with_pip=False)  # the pip that is here serves it; what is not loaded is not compiled
    commands = environment / ("Scripts" if os.name == "nt" else "bin")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--python", str(commands / "python")]
    pins = str(ROOT / "tests" / "constraints.txt")
    run([*pip, "install", "--quiet", "--no-compile", "--constraint", pins, str(wheel)], environment)
    return commands


@pytest.mark.slow
@pytest.mark.timeout(300)
def test_wheel_works_without_the_checkout_and_the_test_tools(tmp_path: Path) -> None:
    """A fresh environment with only the wheel runs the command from another folder."""
    wheel = build_wheel(tmp_path / "dist")
    inside = set(zipfile.ZipFile(wheel).namelist())
    assert {f"records/_report_templates/fonts/{name}" for name in FONTS} <= inside
    assert not [name for name in inside if name.split("/")[0] in {"tests", "migrations", "demo", "report_templates"}]

    commands = install_alone(wheel, tmp_path / "environment")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    swathbook = str(commands / "swathbook")

    assert "swathbook" in run([swathbook, "--help"], elsewhere).lower()

    # The rule packs and the report layouts are data inside the package.
    assert "18B.37" in run([swathbook, "pack", "show", "us-mn"], elsewhere)

    run([swathbook, "--book", "season.book", "init"], elsewhere)
    assert "ny-annual" in run([swathbook, "--book", "season.book", "report", "list"], elsewhere)
    assert (elsewhere / "season.book").is_file()
