"""The command line: parses arguments and prints; every command's work is done elsewhere.

Exit 0: fine (warnings alone are fine). Exit 1: problems were found, nothing was written (but see `import-table`).
Exit 2: wrong usage.
"""

from __future__ import annotations

import argparse
import io
import os
import subprocess
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from site_builder.against import compare
from site_builder.build import derive_all, effects_in_class
from site_builder.check_report import PRINTERS, Report
from site_builder.commands.command_line import add_commands
from site_builder.problems import Problem, has_errors, in_order
from site_builder.revision import RevisionError

FINE, FOUND, USAGE = 0, 1, 2


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    options = _parser().parse_args(arguments)
    # A name that the terminal's encoding lacks is shown escaped, where an exception would hide all other findings.
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")
    command: Callable[[argparse.Namespace], int] = options.command
    try:
        code = command(options)
        sys.stdout.flush()
    except BrokenPipeError:  # whoever read it, such as `head`, has had enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FOUND
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="site-builder", description="Builds a catalogue of battery bench tests.")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    add_commands(commands)
    check = commands.add_parser("check", help="say everything that is wrong with results files; writes nothing")
    check.add_argument("files", nargs="*", type=Path, metavar="FILE", help="results files; all where left out")
    check.add_argument("--format", choices=("text", "json", "github"), default="text", help="how to print the problems")
    words = "say what changed since a git revision, such as origin/main, and what has to be told about it"
    check.add_argument("--against", metavar="REV", help=words)
    check.set_defaults(command=check_command)
    build = commands.add_parser("build", help="build the site")
    build.add_argument("--site", type=Path, default=Path("site"), metavar="DIR", help="where to (default: site)")
    build.add_argument("--offline", action="store_true", help="a folder to open without a server, from file://")
    words = "write Markdown instead of a site: all pages, those written by hand too, without pictures, scripts and data"
    build.add_argument("--pages", type=Path, metavar="DIR", help=words)
    build.set_defaults(command=build_command)
    serve = commands.add_parser("serve", help="show the site on this machine, rebuilt on every change")
    serve.add_argument("--address", default="127.0.0.1:8000", metavar="HOST:PORT", help="default: 127.0.0.1:8000")
    serve.set_defaults(command=serve_command)
    for command in (check, build):
        command.add_argument("--results", type=Path, metavar="DIR", help="folder of results files (default: results)")
        command.add_argument(
            "--catalogue", type=Path, metavar="DIR", help="default: the folder catalogue beside that of the results"
        )
    for command in (build, serve):
        command.add_argument(
            "--config", type=Path, default=Path("mkdocs.yml"), metavar="FILE", help="default: mkdocs.yml"
        )
    return parser


def check_command(options: argparse.Namespace) -> int:
    """Print every problem in the chosen format, and for files given by name what each does to its class."""
    # A file given by its path says itself which results folder is meant.
    for path in options.files:
        if path.is_dir():
            return _usage(f"{path} is a folder; to check all files in it, give --results {path}")
        if path.parent == Path() and not path.exists():
            return _usage(f"there is no file {path}; {_file_of_id(path.name, options.results or Path('results'))}")
    given = options.results or (options.files[0].parent if options.files else Path("results"))
    folders = _folders(given, options.catalogue)
    if isinstance(folders, str):
        return _usage(folders)
    results, catalogue = folders
    if results == catalogue:
        known = given.parent / "results"
        return _usage(f"{given} is the catalogue, read with every check; name a results file in {known}, or none")
    try:
        compared = compare(results, catalogue, options.against) if options.against is not None else None
    except RevisionError as error:
        return _usage(str(error))
    # Whoever names a file is its tester: it is derived even while it is embargoed.
    checked = derive_all(results, catalogue, only=options.files or None, embargoed=bool(options.files))
    since = compared.problems if compared else ()
    problems = in_order([*_not_there(options.files, given), *checked.problems, *since])
    # A file with an error has numbers that would mislead.
    sound = not has_errors(problems)
    effects = effects_in_class(results, catalogue, options.files) if sound and options.files else ()
    of_files = sound and bool(options.files)
    report = Report(problems=problems, checked=checked, of_files=of_files, effects=effects, compared=compared)
    PRINTERS[options.format](report)
    return FINE if sound else FOUND


def _file_of_id(name: str, results: Path) -> str:
    """Which file to name where a unit's id, or a bare name, was given."""
    there = next((path for end in ("", ".yml", ".yaml") if (path := results / f"{name}{end}").is_file()), None)
    return f"name {there}" if there else f"name one with its folder, such as {results / 'maker-model.yml'}"


def _folders(results: Path, catalogue: Path | None) -> tuple[Path, Path] | str:
    """The folders of results and catalogue, with all their names; or what is wrong."""
    if not results.is_dir():
        return f"there is no folder {results}; go to the project's folder, or give --results DIR"
    # Resolved, since "." has no name, and no parent to look for the catalogue in.
    catalogue = catalogue or results.resolve().parent / "catalogue"
    if not catalogue.is_dir():
        return f"there is no folder {catalogue}; give --catalogue DIR"
    return results.resolve(), catalogue.resolve()


def _not_there(files: Iterable[Path], results: Path) -> list[Problem]:
    """Files that were asked for and cannot be results files of this folder."""
    problems = []
    for path in files:
        fits = path.suffix in {".yml", ".yaml"} and path.parent.resolve() == results.resolve()
        if not (path.is_file() and fits):
            message = "this is no results file" if path.exists() else "there is no such file"
            hint = f"name a .yml file in {results}, or none to check them all"
            problems.append(
                Problem(file=str(path), line=0, column=0, field="", message=message, hint=hint, code="file-missing")
            )
    return problems


def build_command(options: argparse.Namespace) -> int:
    """Build the site, or write its Markdown pages to a folder."""
    if options.pages:
        return _write_pages(options.results or Path("results"), options.catalogue, options.pages)
    if options.results or options.catalogue:
        return _usage(f"--results and --catalogue go with --pages; for a site, {options.config} names the folders")
    if not options.config.is_file():
        return _usage(f"there is no {options.config}; go to the project's folder, or give --config FILE")
    links = ("--no-directory-urls",) if options.offline else ()
    site = str(options.site.resolve())
    return _mkdocs("build", "--strict", "--config-file", str(options.config), "--site-dir", site, *links)


def _write_pages(results: Path, catalogue: Path | None, folder: Path) -> int:
    from site_builder.build import render_pages_only  # noqa: PLC0415  # slow libraries behind it

    folders = _folders(results, catalogue)
    if isinstance(folders, str):
        return _usage(folders)
    site = render_pages_only(*folders)
    for problem in site.problems:
        print(problem)
    if not site.pages:
        print("nothing was written", file=sys.stderr)
        return FOUND
    pages = _by_hand(folders[1] / "pages") | {uri: text.encode() for uri, text in site.pages.items()}
    targets = {uri: folder / uri for uri in pages}
    # A link that stands in the folder already could lead anywhere.
    outside = [uri for uri, path in targets.items() if not path.resolve().is_relative_to(folder.resolve())]
    if outside:
        return _usage(f"{targets[outside[0]]} leads out of {folder}; delete that link, or give an empty folder")
    for uri, page in pages.items():
        targets[uri].parent.mkdir(parents=True, exist_ok=True)
        targets[uri].write_bytes(page)
    print(f"{len(pages)} pages written to {folder}", file=sys.stderr)
    return FINE


def _by_hand(folder: Path) -> dict[str, bytes]:
    """The pages that somebody wrote, as they are; no link out of their folder is followed."""
    inside = (path for path in folder.rglob("*.md") if path.resolve().is_relative_to(folder.resolve()))
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in inside if path.is_file()}


def serve_command(options: argparse.Namespace) -> int:
    """Serve the site on this machine."""
    if not options.config.is_file():
        return _usage(f"there is no {options.config}; go to the project's folder, or give --config FILE")
    return _mkdocs("serve", "--config-file", str(options.config), "--dev-addr", options.address)


def _mkdocs(*arguments: str) -> int:
    # As a program of its own: its logging, its exit codes and its reloading stay its own.
    # One thread for linear algebra: the matrices are tiny, and waiting threads burn more than they save.
    environment = {"OPENBLAS_NUM_THREADS": "1"} | os.environ | {"NO_MKDOCS_2_WARNING": "1"}
    try:
        command = [sys.executable, "-m", "mkdocs", *arguments]
        code = subprocess.run(command, env=environment, check=False).returncode  # noqa: S603  # our own words
    except KeyboardInterrupt:
        return FINE
    return FOUND if code else FINE


def _usage(message: str) -> int:
    print(f"site-builder: {message}", file=sys.stderr)
    return USAGE


if __name__ == "__main__":
    sys.exit(main())
