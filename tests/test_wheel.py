"""The main job works from an installed wheel, away from the checkout."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
RUN = [sys.executable, "-c", "from telemetry.cli import main; main()"]


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """An environment in which the wheel's packages come first, none of the checkout's."""
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(folder), str(ROOT)],
        check=True,
        capture_output=True,
    )
    (wheel,) = folder.glob("*.whl")
    site = folder / "site"
    subprocess.run(
        [
            sys.executable,
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
            "--no-deps",
            "--target",
            str(site),
            str(wheel),
        ],
        check=True,
    )
    return {
        **os.environ,
        "PYTHONPATH": str(site),
        "PYTHONSAFEPATH": "1",
        "SAGLINE_LOGBOOK": str(folder / "book"),
    }


def test_the_wheel_holds_telemetry_and_dashboard_only(installed):
    site = Path(installed["PYTHONPATH"])
    assert {p.name for p in site.iterdir() if p.is_dir() and not p.name.endswith(".dist-info")} - {"bin"} == {
        "telemetry",
        "dashboard",
    }


def test_the_demo_opens_from_the_wheel_and_shows_its_flights(installed, tmp_path):
    demo = subprocess.Popen(
        [*RUN, "demo", "--no-browser", "--port", "0", "--logbook", str(tmp_path / "demo")],
        cwd=tmp_path,
        env=installed,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        assert demo.stdout is not None
        line = demo.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:\d+/", line)
        assert found, line + (demo.stderr.read() if demo.poll() is not None and demo.stderr else "")
        with urllib.request.urlopen(found.group(), timeout=30) as answer:
            assert b"Sagline" in answer.read()
    finally:
        demo.terminate()
        demo.wait(timeout=20)
        demo.stdout.close()
        demo.stderr.close()
    listed = subprocess.run(
        [*RUN, "flights", "--logbook", str(tmp_path / "demo")],
        cwd=tmp_path,
        env=installed,
        capture_output=True,
        text=True,
        check=True,
    )
    assert len(listed.stdout.splitlines()) >= 5


def test_the_wheel_knows_its_version_without_the_project_file(installed, tmp_path):
    said = subprocess.run(
        [*RUN, "--version"], cwd=tmp_path, env=installed, capture_output=True, text=True, check=True
    )
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert said.stdout == f"sagline {project['version']}\n"


def test_where_the_packages_come_from(installed, tmp_path):
    where = subprocess.run(
        [
            sys.executable,
            "-c",
            "import telemetry, dashboard; print(telemetry.__file__); print(dashboard.__file__)",
        ],
        cwd=tmp_path,
        env=installed,
        capture_output=True,
        text=True,
        check=True,
    )
    assert all(line.startswith(installed["PYTHONPATH"]) for line in where.stdout.split())
