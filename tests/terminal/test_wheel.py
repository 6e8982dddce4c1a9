"""The wheel in an environment of its own: what it installs, and that it starts."""

import subprocess
import sys
import sysconfig
import venv
import zipfile
from pathlib import Path

import pytest
from hatchling.build import build_wheel

from tests.terminal.screen import ROOT, TerminalScreen
from tui.cli import VERSION

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal"),
]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(ROOT)
        return folder / build_wheel(str(folder))


@pytest.fixture(scope="module")
def scripts(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the commands of an environment with the wheel.

    What it depends on comes from the environment of the tests, but not the checkout: the
    path files there are not followed a second time.
    """
    folder = tmp_path_factory.mktemp("environment")
    venv.create(folder)
    paths = sysconfig.get_paths("venv", vars={"base": str(folder), "platbase": str(folder)})
    dependencies = Path(paths["purelib"]) / "dependencies.pth"
    dependencies.write_text(sysconfig.get_path("purelib"), encoding="utf-8")
    pip = [sys.executable, "-m", "pip", "--python", str(Path(paths["scripts"]) / "python")]
    # A copy in the dependencies' folder must not count as installed.
    install = ["install", "--quiet", "--no-index", "--no-deps", "--ignore-installed", str(wheel)]
    subprocess.run([*pip, *install], check=True)
    return Path(paths["scripts"])


def output(*command: str, folder: Path) -> str:
    ran = subprocess.run(command, capture_output=True, text=True, cwd=folder, check=True)
    return ran.stdout.strip()


def test_the_wheel_installs_one_top_level_name(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert {name.partition("/")[0] for name in names} == {
        "resieve",
        f"resieve-{VERSION}.dist-info",
    }
    assert {name.split("/")[1] for name in names if name.startswith("resieve/")} == {
        "__init__.py",
        "__main__.py",
        "domain",
        "banks",
        "tui",
        "sample_banks",
    }


def test_command_and_module_start_what_the_wheel_holds(scripts: Path, tmp_path: Path) -> None:
    python = str(scripts / "python")
    assert output(str(scripts / "resieve"), "--version", folder=tmp_path) == f"resieve {VERSION}"
    assert output(python, "-m", "resieve", "--version", folder=tmp_path) == f"resieve {VERSION}"
    code = "import resieve, domain, banks, tui; print(domain.__file__, banks.__file__)"
    for path in output(python, "-c", code, folder=tmp_path).split():
        assert Path(path).is_relative_to(scripts.parent)


def test_figures_are_made_ahead_by_what_the_wheel_holds(scripts: Path, tmp_path: Path) -> None:
    code = """if True:
        import sys, resieve
        from pathlib import Path
        from banks import kept_history
        from banks.library import Library
        from banks.views.figures import make_ahead
        kept_history.FEWEST = 0
        library = Library.open(Path(sys.argv[1]))
        print(make_ahead(library).wait())
    """
    store = tmp_path / "store"
    python = str(scripts / "python")
    assert output(python, "-c", code, str(store), folder=tmp_path) == "0"
    assert list((store / "cache").glob("evidence*"))


def test_the_demo_starts_from_the_wheel(scripts: Path) -> None:
    screen = TerminalScreen([str(scripts / "resieve"), "demo"], PYTHONPATH="")
    screen.until("Today", "days to the exam")
    screen.type("q")
    assert screen.exit_status() == 0
