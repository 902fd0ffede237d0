"""What a person gets: the source archive with all that its tests need, the wheel with the program and its tables."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("hatchling")

from hatchling.builders.sdist import SdistBuilder
from hatchling.builders.wheel import WheelBuilder

ROOT = Path(__file__).parents[1]
KEPT = ("rationlp", "feed_library", "tests", "demo", ".ci")
ALONE = {"DEVELOPERS.md", "LICENSE", "README.md", "pyproject.toml"}
LEFT = ("__pycache__", ".pytest_cache", ".hypothesis")


def _packed(builder) -> set[str]:
    """The files of an archive, by their places in it."""
    data = {"artifacts": [], "force_include": {}, "build_hooks": (), **builder.get_default_build_data()}
    with builder.config.set_build_data(data):
        return {Path(each.distribution_path).as_posix() for each in builder.recurse_included_files()}


def _files(folder: str) -> set[str]:
    """The files below a folder, but what running leaves there."""
    found = (path.relative_to(ROOT) for path in (ROOT / folder).rglob("*") if path.is_file())
    return {
        path.as_posix()
        for path in found
        if not set(LEFT) & set(path.parts) and ".record" not in "".join(path.suffixes) and ".mixes" not in str(path)
    }


def test_the_source_archive_holds_all_that_the_tests_need():
    packed = _packed(SdistBuilder(str(ROOT)))
    assert packed - {".gitignore", "PKG-INFO"} == ALONE.union(*(_files(folder) for folder in KEPT))


def test_the_wheel_holds_the_program_and_its_tables_and_nothing_else():
    """The tables lie within the program: `feed_library` by itself is a name that somebody else may own."""
    packed = _packed(WheelBuilder(str(ROOT)))
    assert packed == _files("rationlp") | {f"rationlp/{path}" for path in _files("feed_library")}
    assert {"rationlp/py.typed", "rationlp/report/templates/page.js", "rationlp/feed_library/README.md"} <= packed


def test_the_metadata_name_the_licences():
    core = WheelBuilder(str(ROOT)).metadata.core
    assert core.license_expression == "MIT" and core.license_files == ["LICENSE"]
    assert "## Licence" in (ROOT / "feed_library" / "README.md").read_text(encoding="utf-8")
