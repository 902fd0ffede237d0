"""What the tests notice of small mistakes put into the computing folders, one at a time.

    python tests/benchmarks/mutants.py PLACE [EACH [SEED [PART ...]]]

Every part of COMPUTING has a few quick files of tests. They are run once to see which test reaches which line (kept in
the folder PLACE). Then EACH mistakes (of cosmic-ray's; 20 if not said) are drawn of the part: so many places of its
code, each as likely as any other, and at each place one of the mistakes that can be made there. A mistake is put into
the functions, constants and defaults of a copy of the process, which runs those of the tests that reach its line, then
others of the part, the fastest first, until one fails: `survived` means by these few, not by the whole suite. The same
seed draws the same mistakes of the same sources; a run that was stopped goes on; nothing is written into the sources.
Needs the extra `long`. A file of PLACE has them all by part; what survived is printed. PART names parts (`bins`) for
those alone.
"""

from __future__ import annotations

import ast
import difflib
import gc
import json
import os
import random
import re
import resource
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from importlib import import_module
from pathlib import Path
from types import CodeType, FunctionType, ModuleType

import pytest
from _pytest.runner import runtestprotocol
from parts import COMPUTING

ROOT = Path(__file__).parents[2]
MOST_TESTS_S = 3.0
"""The tests of a mistake take no more than this, by what each took in the first run; the fastest come first."""
MOST_CPU_S = 60
"""Processor time after which a mistake counts as noticed: the program hangs."""
PLAIN = (int, float, str, bytes, tuple, dict, frozenset)
"""Kinds of constants."""
KILLED, SURVIVED, NOT_TRIED = 1, 40, 41
HARMLESS = re.compile(
    "RemoveDecorator|Variable|NoOp|ExceptionReplacer|Operator_[^_]*(?<!Is)(?<!IsNot)_Is(Not)?$|_Is_Eq$|_IsNot_NotEq$"
)
"""Kinds of mistakes that tell nothing: `is` for `==` is the same of most things, or no Python."""


@dataclass(frozen=True)
class Mutant:
    """A mistake: of `operator`, its place number `occurrence` in `path`, which begins on `line`."""

    path: str
    operator: str
    arguments: dict[str, str]
    occurrence: int
    line: int


@dataclass(frozen=True)
class Tried:
    """What became of it: killed, survived, or `not reached` by any test; `changed` has the line before and after."""

    mutant: Mutant
    outcome: str
    tests: int
    cpu: float
    changed: str


@dataclass(frozen=True)
class Reached:
    """The tests that reach each line of a file, and the seconds that each took."""

    by_line: dict[str, dict[int, list[str]]]
    seconds: dict[str, float]

    def tests_of(self, path: str, line: int) -> list[str]:
        """The tests of a line, the fastest first, as many as MOST_TESTS_S has room for."""
        contexts = self.by_line.get(path, {}).get(line, [])
        return self._fastest({context.split("|")[0] for context in contexts if "|" in context})

    def others(self, first: list[str]) -> list[str]:
        """The rest: what is worked out once is reached by the first test alone that asks for it."""
        return self._fastest(self.seconds.keys() - set(first))

    def _fastest(self, tests: set[str]) -> list[str]:
        chosen, total = [], 0.0
        for test in sorted(tests & self.seconds.keys(), key=lambda test: (self.seconds[test], test)):
            total += self.seconds[test]
            if chosen and total > MOST_TESTS_S:
                break
            chosen.append(test)
        return chosen


def reached(name: str, place: Path) -> Reached:
    """Run the tests of a part once, if that was not done before."""
    import coverage

    data, times = in_place(place, name, "coverage"), in_place(place, name, "json")
    if not times.exists():
        words = ["-n", "0", "-q", "--slow", "--cov=rationlp", "--cov-branch", "--cov-context=test", "--cov-report="]
        asked = [sys.executable, __file__, "--timed", str(times), *words, *COMPUTING[name].tests]
        env = {**os.environ, "COVERAGE_FILE": str(data), "PYTHONPATH": str(ROOT)}
        subprocess.run(asked, cwd=ROOT, env=env, check=True)
    held = coverage.CoverageData(str(data))
    held.read()
    files = {str(Path(file).relative_to(ROOT)): file for file in held.measured_files()}
    wanted = {path: file for path, file in files.items() if path.startswith(COMPUTING[name].sources)}
    by_line = {path: held.contexts_by_lineno(file) for path, file in wanted.items()}
    return Reached(by_line, json.loads(times.read_text(encoding="utf-8")))


class Times:
    """A plugin of pytest: how long each test took."""

    def __init__(self) -> None:
        self.seconds: Counter[str] = Counter()

    def pytest_runtest_logreport(self, report: object) -> None:
        """Add up setup, call and teardown."""
        self.seconds[report.nodeid] += report.duration  # type: ignore[attr-defined]


def timed(times: str, *words: str) -> int:
    """The tests, run here; what each took."""
    plugin = Times()
    code = pytest.main(list(words), plugins=[plugin])
    if code == 0:
        Path(times).write_text(json.dumps(plugin.seconds), encoding="utf-8")
    return int(code)


def not_run(tree: ast.Module) -> Iterator[tuple[int, int]]:
    """Lines, first to last, that do nothing when the program runs: imports for types alone, frozen or not."""
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING":
            yield node.lineno, node.end_lineno or node.lineno
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "dataclass":
            yield node.lineno, node.end_lineno or node.lineno


def in_function(mutant: Mutant) -> bool:
    """Whether a function does it when it is called."""
    tree = ast.parse((ROOT / mutant.path).read_text(encoding="utf-8"))
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    return any(node.body[0].lineno <= mutant.line <= (node.end_lineno or 0) for node in functions)


def says_nothing(tree: ast.Module) -> Iterator[tuple[tuple[int, int], tuple[int, int]]]:
    """Where annotations, and `strict=` of lists that are as long, begin and end, as (line, column)."""
    for node in ast.walk(tree):
        strict = node.value if isinstance(node, ast.keyword) and node.arg == "strict" else None
        for found in (getattr(node, "annotation", None), getattr(node, "returns", None), strict):
            if found is not None:
                yield (found.lineno, found.col_offset), (found.end_lineno, found.end_col_offset)


def mutants_of(path: str) -> dict[tuple[int, int], list[Mutant]]:
    """Every mistake there is to make in a file, by the place where it begins."""
    from cosmic_ray.ast import ast_nodes, get_ast_from_path
    from cosmic_ray.plugins import get_operator, operator_names

    source = (ROOT / path).read_text(encoding="utf-8")
    tree = ast.parse(source)
    apart, typed = list(not_run(tree)), list(says_nothing(tree))
    nodes = list(ast_nodes(get_ast_from_path(ROOT / path)))
    found: dict[tuple[int, int], list[Mutant]] = {}
    for name in sorted(operator_names()):
        kind = get_operator(name)
        if HARMLESS.search(name) or kind.arguments():
            continue
        operator = kind()
        places = ((start, end) for node in nodes for start, end in operator.mutation_positions(node))
        for occurrence, (start, _) in enumerate(places):
            inside = any(first <= start <= last for first, last in typed)
            if not inside and not any(first <= start[0] <= last for first, last in apart):
                found.setdefault(start, []).append(Mutant(path, name, {}, occurrence, start[0]))
    return found


def drawn(name: str, each: int, seed: int) -> list[Mutant]:
    """So many mistakes of a part, each place of its code as likely as any other; all places where there are fewer."""
    paths = sorted(
        str(file.relative_to(ROOT))
        for source in COMPUTING[name].sources
        for file in ([ROOT / source] if source.endswith(".py") else (ROOT / source).rglob("*.py"))
    )
    places = [found for path in paths for _, found in sorted(mutants_of(path).items())]
    chance = random.Random(f"{name} {seed}")
    return [chance.choice(found) for found in chance.sample(places, min(each, len(places)))]


def part_of(path: str) -> str:
    """The part of COMPUTING that a file belongs to."""
    return next(name for name, part in COMPUTING.items() if path.startswith(part.sources))


def mutated(mutant: Mutant) -> str:
    """The source with the mistake in it."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    source = (ROOT / mutant.path).read_text(encoding="utf-8")
    operator = get_operator(mutant.operator)(**mutant.arguments)
    return mutate_code(source, operator, mutant.occurrence) or source


def changed(path: str, source: str) -> str:
    """The lines that differ, before and after."""
    before = (ROOT / path).read_text(encoding="utf-8")
    lines = difflib.unified_diff(before.splitlines(), source.splitlines(), n=0, lineterm="")
    return " ".join(line for line in lines if line[:1] in "+-" and line[:3] not in ("+++", "---"))


def code_of(whole: CodeType) -> dict[tuple[str, int], CodeType]:
    """Every piece of code inside, by its name and the line where it begins."""
    found = {}
    for part in whole.co_consts:
        if isinstance(part, CodeType):
            found |= {(part.co_qualname, part.co_firstlineno): part, **code_of(part)}
    return found


def put_in(path: str, source: str) -> None:
    """Let this process work by `source` in place of a module that is loaded: its functions, constants and defaults.

    Raises ValueError where that cannot be done: the mistake is in what is worked out when a class is made.
    """
    name = path.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    module, fresh = import_module(name), ModuleType(name)  # a command may load it when it is asked for
    whole = compile(source, str(module.__file__), "exec")
    mine = [each for each in gc.get_objects() if isinstance(each, FunctionType) and each.__module__ == name]
    before = code_of(compile((ROOT / path).read_text(encoding="utf-8"), str(module.__file__), "exec"))
    after, changes = code_of(whole), 0
    for function in mine:
        key = (function.__code__.co_qualname, function.__code__.co_firstlineno)
        if key in after and after[key] != before.get(key):
            function.__code__, changes = after[key], changes + 1
    vars(fresh).update(__file__=module.__file__, __package__=module.__package__)
    sys.modules[name] = fresh  # dataclasses look their module up by its name
    try:
        exec(whole, vars(fresh))
    finally:
        sys.modules[name] = module
    for key, value in list(vars(module).items()):
        new = vars(fresh).get(key)
        if isinstance(value, FunctionType) and isinstance(new, FunctionType) and value.__defaults__ != new.__defaults__:
            value.__defaults__, changes = new.__defaults__, changes + 1
        elif isinstance(value, PLAIN) and type(new) is type(value) and repr(new) != repr(value):
            for other in [each for key_, each in sys.modules.items() if key_.startswith("rationlp")]:
                for place, held in list(vars(other).items()):
                    if held is value:
                        setattr(other, place, new)
                        changes += 1
    if not changes:
        raise ValueError("nothing of it is in a function, a constant or a default")


@dataclass
class Trial:
    """A plugin of pytest: in place of running what it collected, each mistake on its tests."""

    mutants: list[Mutant]
    lines: Reached
    kept: Path
    results: list[Tried] = field(default_factory=list)

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try them all. Nothing is solved before processes part: HiGHS's threads do not come along."""
        items = {item.nodeid: item for item in session.items}
        before = read(self.kept)
        for mutant in self.mutants:
            one = before.get(str(mutant)) or self.tried(mutant, items)
            self.results.append(one)
            if str(mutant) not in before:
                with self.kept.open("a", encoding="utf-8") as file:
                    file.write(json.dumps(asdict(one)) + "\n")
        return True

    def tried(self, mutant: Mutant, items: dict[str, pytest.Item]) -> Tried:
        """What becomes of a mistake."""
        source = mutated(mutant)
        tests = self.lines.tests_of(mutant.path, mutant.line)
        if not tests and not in_function(mutant):
            tests = self.lines.others([])  # worked out when the module is loaded, before any test
        chosen = [items[test] for test in dict.fromkeys((*tests, *self.lines.others(tests))) if test in items]
        files = list(dict.fromkeys(item.path for item in chosen))
        chosen.sort(key=lambda item: files.index(item.path))  # what a file sets up is set up once
        words = changed(mutant.path, source)
        if not tests:
            return Tried(mutant, "not reached", 0, 0.0, words)
        began = resource.getrusage(resource.RUSAGE_CHILDREN)
        child = os.fork()
        if child == 0:
            os._exit(outcome_of(mutant.path, source, chosen))
        status = os.waitpid(child, 0)[1]
        ended = resource.getrusage(resource.RUSAGE_CHILDREN)
        cpu = ended.ru_utime - began.ru_utime + ended.ru_stime - began.ru_stime
        outcome = {SURVIVED << 8: "survived", NOT_TRIED << 8: "not tried"}.get(status, "killed")
        return Tried(mutant, outcome, len(chosen), round(cpu, 1), words)


def outcome_of(path: str, source: str, items: list[pytest.Item]) -> int:
    """In a process of its own: SURVIVED, NOT_TRIED, or anything else for a mistake that a test noticed."""
    resource.setrlimit(resource.RLIMIT_CPU, (MOST_CPU_S, MOST_CPU_S))
    nowhere = os.open(os.devnull, os.O_RDWR)
    for stream in range(3):
        os.dup2(nowhere, stream)
    try:
        put_in(path, source)
    except ValueError:
        return NOT_TRIED
    except Exception:
        return KILLED  # the module cannot be loaded so
    try:
        for item, after in zip(items, [*items[1:], items[-1]], strict=True):
            if any(report.failed for report in runtestprotocol(item, nextitem=after, log=False)):
                return KILLED
    except BaseException:
        return KILLED
    return SURVIVED


def read(file: Path) -> dict[str, Tried]:
    """What was tried before, by mutant."""
    found = {}
    for line in file.read_text(encoding="utf-8").splitlines() if file.exists() else []:
        held = json.loads(line)
        one = Tried(Mutant(**held.pop("mutant")), **held)
        found[str(one.mutant)] = one
    return found


def table(results: list[Tried]) -> str:
    """How many were noticed, by part; then what was not. Those that could not be tried count nowhere."""
    counts: dict[str, Counter[str]] = {}
    tried = [one for one in results if one.outcome != "not tried"]
    for one in tried:
        counts.setdefault(part_of(one.mutant.path), Counter())[one.outcome] += 1
    counts["all"] = sum(counts.values(), Counter())
    rows = [
        f"| {room} | {found.total()} | {found['killed']} | {found['survived']} | {found['not reached']} | "
        f"{found['killed'] / found.total():.0%} |"
        for room, found in counts.items()
        if found
    ]
    head = "| part | mistakes | killed | survived | not reached | killed |\n| --- | --- | --- | --- | --- | --- |"
    left = [f"{t.mutant.path}:{t.mutant.line} {t.outcome}: {t.changed}" for t in tried if t.outcome != "killed"]
    return "\n".join([head, *rows, "", *left])


def in_place(place: Path, *words: str) -> Path:
    """A file of a part in the folder PLACE, named by these words; the last is its ending."""
    return place / f"{' '.join(words[:-1]).replace(': ', '_').replace(' ', '_')}.{words[-1]}"


def try_part(name: str, place: Path, each: str, seed: str) -> None:
    """Try the mistakes of a part, in a process of its own: modules are changed in it."""
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    kept = in_place(place, name, each, seed, "jsonl")
    trial = Trial(drawn(name, int(each), int(seed)), reached(name, place), kept)
    words = (
        "-n",
        "0",
        "-q",
        "--slow",
        "-p",
        "no:cacheprovider",
        "--capture",
        "no",
        "--basetemp",
        str(place / "temporary"),
    )
    pytest.main([*words, *COMPUTING[name].tests], plugins=[trial])


def main(target: str, each: str = "20", seed: str = "1", *names: str) -> int:
    """Try them all; exit code 1 where less than 85 percent are noticed."""
    place = Path(target).resolve()
    place.mkdir(parents=True, exist_ok=True)
    results: list[Tried] = []
    for name in names or COMPUTING:
        subprocess.run([sys.executable, __file__, "--part", name, str(place), each, seed], check=True)
        results += read(in_place(place, name, each, seed, "jsonl")).values()
    print(f"{each} mistakes of each part, seed {seed}\n\n{table(results)}")
    tried = [one for one in results if one.outcome != "not tried"]
    return int(sum(one.outcome == "killed" for one in tried) < 0.85 * len(tried))


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["--timed", times, *words]:
            sys.exit(timed(times, *words))
        case ["--part", name, place, each, seed]:
            try_part(name, Path(place), each, seed)
        case words:
            sys.exit(main(*words))
