"""How far a number walks through the code: what one ration and its mix sheet enter, build and hand on.

    python tests/benchmarks/walk.py [--json]

Runs `rationlp ration` and `rationlp sheets` on the demo book (one stage, one bin), each in a process of its own with
every module loaded beforehand, so that nothing done on import is counted and no cache is warm. Counted under
`sys.setprofile`:

functions entered   distinct functions of the package that were called; lambdas and comprehensions are not counted
files entered       distinct files of the package in which anything was called
classes built       classes of the package of which an instance was made by an `__init__` in Python, exceptions left out
  record types      those that are dataclasses, pydantic models or named tuples
  library left out  the record types without those defined in `rationlp.library`
forms of one mass   the first hand-sorted mass of the book is made three parts in a hundred heavier and the command is
                    run again. A record type is a form of that mass when its records then hold something else in fields
                    of their own: numbers, text, arrays, and lists or mappings of them, but not what is inside a record
                    they hold, which is counted as itself.
  with holders      the same, with the record types that only hold records that changed. What an object holds that is no
                    record (an open solver, a page being written) is not looked into. Types that differ between two runs
                    on the same book are no evidence: they are left out and counted as unsteady.
estimate_bin        how often the function of that name was called for each bin

The records of a class are known by their `__init__`: what pydantic validates without calling it is not seen.

Read from the source of the package, without running it:

python files        and the lines of the longest
record types        classes that are dataclasses, pydantic models or named tuples, by their decorator or their bases
long signatures     functions with more than six parameters, `self` and `cls` not counted
flat folder         the folder with the most Python files lying directly in it, `__init__.py` not counted

Nothing is imported by name but the package itself, so that the figures of two layouts can be compared: put the folder
of another checkout in PYTHONPATH. Nothing here passes or fails.
"""

from __future__ import annotations

import argparse
import ast
import csv
import importlib
import importlib.util
import json
import multiprocessing
import os
import pkgutil
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Set
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, fields, is_dataclass
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import click
import numpy as np
from click.testing import CliRunner

PACKAGE = "rationlp"
LIBRARY = f"{PACKAGE}.library"
STAGE, BIN = "sw_gro_25_50", "north"
COMMANDS = ("ration", "sheets")
HEAVIER = 1.03  # a book whose masses add up to more than a slip above their total is refused
ANSWERED = (0, 3)  # 3: answered, but the ration cannot be met
LONG = 6


@dataclass
class Walk:
    """What one run of a command went through."""

    functions: int
    files: int
    records: list[str]
    plain: list[str]
    estimates: dict[str, int]
    own: dict[str, Counter[int]] = field(repr=False)
    whole: dict[str, Counter[int]] = field(repr=False)


class Watch:
    """A profile function that notes the code entered and keeps every record built until the run is over."""

    def __init__(self, folder: Path, classes: list[type]) -> None:
        self.folder = str(folder) + os.sep
        self.entered: set[CodeType] = set()
        self.built: dict[int, Any] = {}  # by id: kept alive, so no id comes twice
        self.estimates: Counter[str] = Counter()
        self.makers = {code for cls in classes for code in _makers(cls)}

    def __call__(self, frame: FrameType, event: str, returned: Any) -> None:
        code = frame.f_code
        if event == "call":
            if code not in self.entered and code.co_filename.startswith(self.folder):
                self.entered.add(code)
            if code.co_name == "estimate_bin":
                self.estimates[_bin_of(frame)] += 1
        elif event == "return" and code in self.makers:
            made = returned if code.co_name != "__init__" else frame.f_locals[code.co_varnames[0]]
            if _ours(type(made)):
                self.built[id(made)] = made

    def walk(self) -> Walk:
        """What was seen."""
        records = [made for made in self.built.values() if _is_record(type(made))]
        whole: dict[int, int] = {}
        own_of: dict[str, Counter[int]] = {}
        whole_of: dict[str, Counter[int]] = {}
        for record in records:
            name = _name(type(record))
            own_of.setdefault(name, Counter())[_content(record, None)] += 1
            whole_of.setdefault(name, Counter())[_content(record, whole)] += 1
        named = [code for code in self.entered if not code.co_name.startswith("<")]
        return Walk(
            functions=len(named),
            files=len({code.co_filename for code in self.entered}),
            records=sorted(own_of),
            plain=sorted({_name(type(made)) for made in self.built.values() if _is_plain(type(made))}),
            estimates=dict(self.estimates),
            own=own_of,
            whole=whole_of,
        )


def _makers(cls: type) -> Iterator[CodeType]:
    """The code that makes an instance, where it is Python."""
    for maker in (cls.__init__, cls.__new__):
        if (code := getattr(maker, "__code__", None)) is not None:
            yield code


def _bin_of(frame: FrameType) -> str:
    """The first argument that is text: the bin's name."""
    arguments = frame.f_code.co_varnames[: frame.f_code.co_argcount]
    return next((value for name in arguments if isinstance(value := frame.f_locals[name], str)), "?")


def _ours(cls: type) -> bool:
    return cls.__module__.partition(".")[0] == PACKAGE


def _name(cls: type) -> str:
    return f"{cls.__module__}.{cls.__qualname__}"


def _is_record(cls: type) -> bool:
    return _ours(cls) and (is_dataclass(cls) or bool(_fields(cls)))


def _is_plain(cls: type) -> bool:
    return not _is_record(cls) and not issubclass(cls, BaseException)


def _fields(cls: type) -> list[str]:
    """The names of a record's fields."""
    if is_dataclass(cls):
        return [item.name for item in fields(cls)]
    return list(getattr(cls, "__pydantic_fields__", None) or getattr(cls, "_fields", ()))


def _content(record: Any, known: dict[int, int] | None) -> int:
    """What stands in the fields of a record, as one number.

    With the records it holds where `known` is given, which keeps what was found of them by their id; else without.
    """
    if known is not None and id(record) in known:
        return known[id(record)]
    if known is not None:
        known[id(record)] = 0  # for a record that comes round to itself
    content = hash(tuple(_leaves(getattr(record, name, None), known) for name in _fields(type(record))))
    if known is not None:
        known[id(record)] = content
    return content


def _leaves(value: Any, known: dict[int, int] | None) -> object:
    """Something to hash for numbers, text and arrays; of an object nobody can compare only its type."""
    if _is_record(type(value)):
        return "record" if known is None else _content(value, known)
    if isinstance(value, Mapping):
        return tuple((_leaves(key, known), _leaves(item, known)) for key, item in value.items())
    if isinstance(value, Set):
        return tuple(sorted(repr(_leaves(item, known)) for item in value))
    if isinstance(value, list | tuple):
        return tuple(_leaves(item, known) for item in value)
    if isinstance(value, np.ndarray):
        return (value.shape, value.tobytes())
    shown = repr(value)
    return type(value).__name__ if " at 0x" in shown else shown


def package_folder() -> Path:
    """Where the package lies that Python finds first."""
    spec = importlib.util.find_spec(PACKAGE)
    if spec is None or spec.origin is None:
        sys.exit(f"{PACKAGE} is not installed")
    return Path(spec.origin).parent


def run(command: str, book: Path, output: Path) -> Walk:
    """One command under the profile, in a process started for it."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # the solver writes past Python
    folder = package_folder()
    names = [found.name for found in pkgutil.walk_packages([str(folder)], f"{PACKAGE}.")]
    modules = [importlib.import_module(name) for name in names if not name.endswith("__main__")]
    held = {id(value): value for module in modules for value in vars(module).values()}.values()
    group = next(value for value in held if isinstance(value, click.Group))
    watch = Watch(folder, [value for value in held if isinstance(value, type) and _ours(value)])
    arguments = [command, str(book), "--stage", STAGE, "--bin", BIN]
    if command == "sheets":
        arguments += ["-o", str(output)]
    sys.setprofile(watch)
    try:
        result = CliRunner().invoke(group, arguments)
    finally:
        sys.setprofile(None)
    if result.exit_code not in ANSWERED:
        raise RuntimeError(f"{' '.join(arguments)}: exit code {result.exit_code}\n{result.output}{result.exception!r}")
    return watch.walk()


def make_heavier(book: Path) -> None:
    """Changes the first hand-sorted mass of a book in CSV files."""
    path = book / "sorted.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    column = rows[0].index("mass_g")
    rows[1][column] = f"{float(rows[1][column]) * HEAVIER:.3f}"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def run_apart(command: str, heavier: bool, place: Path) -> Walk:
    """One command in a fresh process, on a fresh copy of the demo book in `place`."""
    shutil.rmtree(place, ignore_errors=True)
    book = place / "book"
    shutil.copytree(package_folder().parent / "demo" / "stillwater_bend", book)
    if heavier:
        make_heavier(book)
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        return pool.submit(run, command, book, place / "mix.xlsx").result()


def measure(command: str) -> dict[str, Any]:
    """The figures of one command: twice on the same book, once on the heavier one."""
    with tempfile.TemporaryDirectory() as folder:  # the same for all three: records hold paths
        walk, again, heavier = (run_apart(command, heavy, Path(folder, "farm")) for heavy in (False, False, True))
    unsteady = _differing(walk.whole, again.whole)
    forms, holders = (
        [name for name in _differing(*pair) if name not in unsteady]
        for pair in ((walk.own, heavier.own), (walk.whole, heavier.whole))
    )
    return {
        "functions_entered": walk.functions,
        "files_entered": walk.files,
        "classes": len(walk.records) + len(walk.plain),
        "record_types": walk.records,
        "record_types_without_library": [name for name in walk.records if not name.startswith(f"{LIBRARY}.")],
        "plain_classes": walk.plain,
        "forms_of_one_mass": forms,
        "forms_and_their_holders": holders,
        "unsteady": unsteady,
        "estimate_bin": walk.estimates,
    }


def _differing(one: dict[str, Counter[int]], other: dict[str, Counter[int]]) -> list[str]:
    """The names whose contents are not the same."""
    return sorted(name for name in {*one, *other} if one.get(name) != other.get(name))


def survey(folder: Path) -> dict[str, Any]:
    """What the source of the package shows."""
    paths = sorted(folder.rglob("*.py"))
    texts = {path: path.read_text(encoding="utf-8") for path in paths}
    nodes = {path: list(ast.walk(ast.parse(text))) for path, text in texts.items()}
    lines = {path: len(text.splitlines()) for path, text in texts.items()}
    longest = max(paths, key=lambda path: lines[path])
    flat = Counter(path.parent for path in paths if path.name != "__init__.py")
    (fullest, files), *_ = flat.most_common(1)
    classes = [node for path in paths for node in nodes[path] if isinstance(node, ast.ClassDef)]
    signatures = [
        {"function": f"{path.relative_to(folder.parent)}:{node.name}", "parameters": count}
        for path in paths
        for node in nodes[path]
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and (count := parameters(node)) > LONG
    ]
    return {
        "python_files": len(paths),
        "lines": sum(lines.values()),
        "classes": len(classes),
        "record_types": count_records(classes),
        "long_signatures": sorted(signatures, key=lambda row: -row["parameters"]),
        "largest_file": {"file": str(longest.relative_to(folder.parent)), "lines": lines[longest]},
        "largest_flat_folder": {"folder": str(fullest.relative_to(folder.parent)), "files": files},
    }


def parameters(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """How many there are to give."""
    given = function.args
    named = [*given.posonlyargs, *given.args, *given.kwonlyargs, given.vararg, given.kwarg]
    return sum(one is not None and one.arg not in ("self", "cls") for one in named)


def count_records(classes: list[ast.ClassDef]) -> int:
    """The dataclasses, pydantic models and named tuples among them, the heirs of those too."""
    names, count = {"BaseModel", "NamedTuple"}, -1
    marked = {id(node) for node in classes if any(_last_name(mark) == "dataclass" for mark in node.decorator_list)}
    while count != len(marked):
        count = len(marked)
        names |= {node.name for node in classes if id(node) in marked and not node.decorator_list}
        marked |= {id(node) for node in classes if any(_last_name(base) in names for base in node.bases)}
    return count


def _last_name(node: ast.expr) -> str:
    """`dataclass` of `@dataclasses.dataclass(frozen=True)`, `Sheet` of `Sheet[Row]`."""
    if isinstance(node, ast.Call):
        return _last_name(node.func)
    if isinstance(node, ast.Subscript):
        return _last_name(node.value)
    return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")


def show(walks: dict[str, dict[str, Any]], source: dict[str, Any]) -> None:
    """Two small tables."""
    print(f"{'One stage, one bin':<30}" + "".join(f"{command:>10}" for command in walks))
    for key, words in {
        "functions_entered": "functions entered",
        "files_entered": "files entered",
        "classes": "classes built",
        "record_types": "  record types",
        "record_types_without_library": "  library left out",
        "forms_of_one_mass": "forms of one mass",
        "forms_and_their_holders": "  with holders",
        "unsteady": "  unsteady, left out",
    }.items():
        counts = [found[key] if isinstance(found[key], int) else len(found[key]) for found in walks.values()]
        print(f"{words:<30}" + "".join(f"{count:>10,}" for count in counts))
    for name in sorted({name for found in walks.values() for name in found["estimate_bin"]}):
        counts = [found["estimate_bin"].get(name, 0) for found in walks.values()]
        print(f"{f'estimate_bin of {name}':<30}" + "".join(f"{count:>10}" for count in counts))
    largest, flat = source["largest_file"], source["largest_flat_folder"]
    print("\nThe package")
    print(f"{'python files':<30}{source['python_files']:>10,}  ({source['lines']:,} lines)")
    print(f"{'record types':<30}{source['record_types']:>10,}  (of {source['classes']} classes)")
    print(f"{f'over {LONG} parameters':<30}{len(source['long_signatures']):>10,}  (functions)")
    print(f"{'largest file':<30}{largest['lines']:>10,}  lines, {largest['file']}")
    print(f"{'largest flat folder':<30}{flat['files']:>10,}  files, {flat['folder']}/")


def main() -> None:
    """Measure, then print the table, or with `--json` everything that was found, by name."""
    parser = argparse.ArgumentParser(description="What one ration and its mix sheet go through.")
    parser.add_argument("--json", action="store_true", help="print all that was found, with names")
    wanted = parser.parse_args()
    os.environ["PYTHONHASHSEED"] = "0"  # for the processes to be started: their hashes are compared
    walks = {command: measure(command) for command in COMMANDS}
    source = survey(package_folder())
    if wanted.json:
        print(json.dumps({"date": time.strftime("%Y-%m-%d"), "commands": walks, "package": source}, indent=2))
    else:
        show(walks, source)


if __name__ == "__main__":
    main()
