"""The tree itself: sizes, names, what may not be written anywhere, and what an import costs."""

import ast
import re
import shutil
import statistics
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path
from typing import Any

import grimp
import pytest
import yaml

ROOT = Path(__file__).parent.parent
MODULES = sorted((ROOT / "site_builder").rglob("*.py"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
# Written without a plain slash or host, so that this file does not hold what it looks for.
REGISTRIES = [rf"\b{name}\.org\b" for name in ("pypi", "pythonhosted", "npmjs", "deb.debian")]
MACHINES = [r"(?<![\w.~/-])/(?:work|root|opt|tmp/w)\b", r"file:/{2,3}(?:home|opt|root|work)", r"[.]{2}/shared\b"]
NOT_WRITTEN = re.compile("|".join(REGISTRIES + MACHINES))
# When a test was made, on which sample, and whether its evidence was kept is looked up, not computed.
LOOKED_UP = {"date_of", "is_reported", "sample_of", "sample_rank", "start_duration_s"}
NOT_A_NAME = {"utils", "util", "helpers", "manager", "registry", "common", "misc"}


def project_files() -> list[Path]:
    """Every file that is, or would be, part of a commit."""
    if not (ROOT / ".git").exists() or not shutil.which("git"):
        pytest.skip("not run: not a git checkout")
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    return [path for name in listed.split("\0") if name and (path := ROOT / name).is_file()]


def nodes(*kinds: type[ast.AST]) -> Iterator[tuple[Path, Any]]:
    """All syntax of these kinds in the package, with its file."""
    for module in MODULES:
        for node in ast.walk(ast.parse(module.read_text("utf-8"))):
            if isinstance(node, kinds):
                yield module.relative_to(ROOT), node


def loaded_by(statement: str) -> set[str]:
    """The top-level packages that a fresh interpreter holds after the statement."""
    code = f"import sys\n{statement}\nprint(*{{name.partition('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_fits_in_a_readers_head(module: Path) -> None:
    lines = len(module.read_text("utf-8").splitlines())
    assert lines < 350
    assert module.stem not in NOT_A_NAME


def test_functions_are_short() -> None:
    lengths = {
        f"{path}:{node.name}": (node.end_lineno or node.lineno) - node.lineno + 1
        for path, node in nodes(ast.FunctionDef)
    }
    longest = sorted(lengths, key=lambda name: -lengths[name])[:10]
    assert statistics.median(lengths.values()) <= 13, longest
    assert statistics.quantiles(lengths.values(), n=20)[-1] < 40, longest


def test_no_name_outside_tests_looks_like_a_test() -> None:
    """A class Test… or a function test_… in the package would be collected wherever a test module imports it."""
    named = [
        f"{path}:{node.lineno}: {node.name}"
        for path, node in nodes(ast.ClassDef, ast.FunctionDef)
        if node.name.startswith(("Test", "test_"))
    ]
    assert named == []


def test_nothing_asks_a_clock() -> None:
    """The same tree gives the same bytes: the catalogue's date comes from the evidence or SOURCE_DATE_EPOCH."""
    asked = [f"{path}:{node.lineno}" for path, node in nodes(ast.Attribute) if is_clock(node)]
    assert asked == []


def is_clock(node: ast.AST) -> bool:
    """Whether it reads `….now`, `….today`, `….utcnow` or `time.time`."""
    if not isinstance(node, ast.Attribute):
        return False
    return node.attr in {"now", "today", "utcnow"} or (node.attr == "time" and ast.unparse(node.value) == "time")


@pytest.mark.parametrize("code", ["dt.datetime.now(dt.UTC)", "date.today()", "time.time()"])
def test_the_search_for_clocks_finds_one(code: str) -> None:
    assert any(is_clock(node) for node in ast.walk(ast.parse(code)))


def test_nothing_points_at_a_machine_or_a_registry() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:100]}"
        for path in project_files()
        for number, line in enumerate(path.read_bytes().decode("utf-8", "replace").splitlines(), 1)
        if NOT_WRITTEN.search(line)
    ]
    assert found == []


@pytest.mark.parametrize("line", ["in @work/x", "cd @root", "file:@@@opt/wheels", "at pypi@org", "..@shared/a"])
def test_the_search_for_machines_finds_one(line: str) -> None:
    assert NOT_WRITTEN.search(line.replace("pypi@", "pypi.").replace("@", "/"))


@pytest.mark.parametrize("line", ["https://example.org/work/", "a/root/b", "the work/ of others", "/units/x/"])
def test_the_search_for_machines_leaves_addresses_alone(line: str) -> None:
    assert not NOT_WRITTEN.search(line)


def test_a_clone_stays_small() -> None:
    sizes = {path: path.stat().st_size for path in project_files()}
    assert sum(sizes.values()) < 15_000_000, sorted(sizes, key=lambda path: -sizes[path])[:10]


def test_the_readme_opens_with_the_job_in_one_paragraph() -> None:
    title, paragraph = (ROOT / "README.md").read_text("utf-8").split("\n\n")[:2]
    assert re.fullmatch(r"# \S.*", title.strip())
    assert re.match(r"[A-Z“]", paragraph), "a paragraph of prose, not a picture, a badge or a list"
    assert 30 <= len(paragraph.split()) <= 160
    assert re.search(r"\bbatter(y|ies)\b", paragraph)


def test_the_command_line_starts_without_the_slow_packages() -> None:
    """Each of these takes a sixth to a third of a second to import; `check` on one file should not wait for them."""
    slow = {"altair", "mkdocs", "pandas", "pint", "scipy", "vl_convert"}
    assert loaded_by("import site_builder.__main__") & slow == set()


def test_the_measure_of_imports_sees_a_slow_package() -> None:
    assert "scipy" in loaded_by("import scipy.special")


def test_any_module_can_be_imported_first() -> None:
    """Two modules that import each other work or break by who comes first; so do three in a ring."""
    graph = grimp.build_graph("site_builder", exclude_type_checking_imports=True)
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert sum(map(len, imports.values())) > len(MODULES), "the graph sees what is imported"
    TopologicalSorter(imports).prepare()  # raises CycleError, which names the ring


def test_pages_charts_and_data_files_compute_no_metric() -> None:
    """They take nouns and words (capitals) from the modules that work numbers out, and call none of their functions."""
    shows = ("pages", "publish", "chart", "frames")
    methods = re.compile(r"site_builder\.(derive|criteria|gates|grade|rank|sensitivity|value)\b")
    taken = [
        f"{path}:{node.lineno}: {alias.name}"
        for path, node in nodes(ast.ImportFrom)
        if path.parts[1].startswith(shows)
        for alias in node.names
        if methods.match(f"{node.module}.{alias.name}")
        if alias.name[0].islower() and alias.name not in LOOKED_UP
    ]
    assert taken == []


def test_every_dependency_has_one_tested_version() -> None:
    lines = (ROOT / "constraints.txt").read_text("utf-8").splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert [pin for pin in pins if not re.fullmatch(r"[\w.-]+==[\w.]+", pin)] == []
    pinned = {normal(pin) for pin in pins}
    wanted = [*PROJECT["project"]["dependencies"], *PROJECT["project"]["optional-dependencies"]["test"]]
    assert {normal(requirement) for requirement in wanted} - pinned == set()


def normal(requirement: str) -> str:
    """The name in a requirement, spelled as PEP 503 has it."""
    return re.sub(r"[-_.]+", "-", re.split(r"[^\w.-]", requirement, maxsplit=1)[0]).lower()


def test_what_the_package_imports_is_declared() -> None:
    imported = {top for _, node in nodes(ast.Import, ast.ImportFrom) for top in top_levels(node)}
    assert undeclared(imported, PROJECT["project"]["dependencies"]) == set()


def test_what_the_tests_import_is_declared() -> None:
    trees = [ast.parse(path.read_text("utf-8")) for path in (ROOT / "tests").rglob("*.py")]
    statements = [node for tree in trees for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
    imported = {top for node in statements for top in top_levels(node)}
    groups = PROJECT["project"]["optional-dependencies"].values()
    assert undeclared(imported - {"tests"}, sum(groups, PROJECT["project"]["dependencies"])) == set()


def undeclared(imported: set[str], requirements: list[str]) -> set[str]:
    """Imported packages that no requirement brings by name."""
    spelled = {
        "yaml": "pyyaml", "pydantic_core": "pydantic", "vl_convert": "vl-convert-python", "PIL": "pillow",
        "zxingcpp": "zxing-cpp",
    }  # fmt: skip
    foreign = imported - sys.stdlib_module_names - {"site_builder"}
    return {normal(spelled.get(name, name)) for name in foreign} - {normal(one) for one in requirements}


def top_levels(node: ast.Import | ast.ImportFrom) -> list[str]:
    """The packages that an import statement names."""
    names = [node.module or ""] if isinstance(node, ast.ImportFrom) else [alias.name for alias in node.names]
    return [name.partition(".")[0] for name in names]


def test_the_citation_names_this_version() -> None:
    citation = yaml.safe_load((ROOT / "CITATION.cff").read_text("utf-8"))
    assert str(citation["version"]) == PROJECT["project"]["version"]


def test_make_offers_four_commands() -> None:
    targets = re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE)
    assert targets == ["site", "test", "test-full", "bench"]
