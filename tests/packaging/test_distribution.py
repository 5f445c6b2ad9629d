"""The distribution: what is built installs in a clean environment, and holds all that both README commands need."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def run(*arguments: str | Path, cwd: Path = ROOT) -> str:
    """Run a program with none of this checkout on its path; its output where it succeeds."""
    clean = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "VIRTUAL_ENV")}
    done = subprocess.run([str(one) for one in arguments], cwd=cwd, capture_output=True, text=True, check=False,
                          env=clean)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("dist")
    run(sys.executable, "-m", "build", "--no-isolation", "--outdir", folder, ROOT)
    return folder


def test_its_name_is_no_other_projects(built: Path) -> None:
    names = sorted(path.name for path in built.iterdir())
    assert len(names) == 2
    assert all(name.startswith("netcheck_fragments-") for name in names)
    readme = (ROOT / "README.md").read_text()
    assert "pip install netcheck\n" not in readme
    assert "pip install netcheck " not in readme
    assert "pip install netcheck`" not in readme


def test_source_distribution_holds_what_its_scripts_and_tests_need(built: Path) -> None:
    (archive,) = built.glob("*.tar.gz")
    with tarfile.open(archive) as source:
        held = {name.partition("/")[2] for name in source.getnames()}
    wanted = run("git", "ls-files").split() if (ROOT / ".git").exists() else [".ci/environment.sh"]
    assert {name for name in wanted if not name.startswith(".git")} - held == set()


def test_wheel_installs_in_a_clean_environment_and_judges_an_example(built: Path, tmp_path: Path) -> None:
    (wheel,) = built.glob("*.whl")
    with zipfile.ZipFile(wheel) as held:
        names = held.namelist()
    assert any(name.endswith("licenses/LICENSE") or name.endswith("/LICENSE") for name in names)
    assert "netcheck/NOTICES.txt" in names
    assert "netcheck/library/cells.yaml" in names
    assert not any(name.startswith("tests/") for name in names)
    venv.create(tmp_path / "venv", with_pip=True)
    scripts = tmp_path / "venv" / ("Scripts" if os.name == "nt" else "bin")
    run(scripts / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", wheel)
    assert run(scripts / "netcheck", "--version", cwd=tmp_path).startswith("netcheck, version ")
    example = tmp_path / "board.yaml"
    example.write_bytes((ROOT / "examples" / "rack-sampler.yaml").read_bytes())
    said = run(scripts / "netcheck", "check", example, "--mod", "coin-cell", cwd=tmp_path)
    assert "coin-cell" in said
    program = "import netcheck; print(netcheck.__file__); print(sorted(netcheck.__all__) == sorted(dir(netcheck)))"
    where, complete = run(scripts / "python", "-c", program, cwd=tmp_path).split("\n")[:2]
    assert str(tmp_path) in where
    assert complete == "True"
