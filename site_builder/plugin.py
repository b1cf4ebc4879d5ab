"""The only file that knows mkdocs: hands it generated pages and files, and asks for a rebuild when evidence changes."""

from __future__ import annotations

import logging
import re
from pathlib import Path
from typing import TYPE_CHECKING

from mkdocs.config import config_options
from mkdocs.config.base import Config
from mkdocs.exceptions import Abort
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files, InclusionLevel

from site_builder.build import Site, render_site

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.livereload import LiveReloadServer
    from mkdocs.structure.pages import Page

# Templates mark finished HTML like this; the place holder is what Markdown sees of it.
BLOCK = re.compile(r"<!-- block -->\n(.*?)<!-- /block -->", re.DOTALL)
# Ends that HTML supplies by itself: the next cell, row or entry begins there (WHATWG HTML, 13.1.2.4 Optional tags).
OPTIONAL_END = re.compile(r"</(?:td|th|tr|li)>\n?")
QUOTED = re.compile(r'( (?:class|scope|id)=)"([a-z0-9-]+)"(?=[ >])')
BETWEEN_TAGS = re.compile(r">\n<")
BLANK = re.compile(r"\n\s*\n\s*|\n[ \t]+")
PLACE = re.compile(r'<div data-block="([0-9]+)"></div>')

log = logging.getLogger("mkdocs.plugins.bench_catalogue")


class CatalogueConfig(Config):  # type: ignore[no-untyped-call]  # mkdocs's own __init_subclass__
    """Options under `plugins: bench_catalogue:` in mkdocs.yml; folders are relative to it."""

    results = config_options.Dir(exists=True, default="results")
    catalogue = config_options.Dir(exists=True, default="catalogue")


class CataloguePlugin(BasePlugin[CatalogueConfig]):  # type: ignore[no-untyped-call]
    """Builds the catalogue's pages before mkdocs cleans the site folder, so that bad input loses nothing."""

    site: Site | None = None

    def __init__(self) -> None:
        self.blocks: dict[str, list[str]] = {}

    def on_pre_build(self, *, config: MkDocsConfig) -> None:  # noqa: ARG002  # mkdocs passes it by name
        """Derive and render everything; with any error, say all of them and stop."""
        self.site = render_site(Path(self.config.results), Path(self.config.catalogue))
        for problem in self.site.problems:
            (log.error if problem.severity == "error" else log.info)("%s", problem)
        if not self.site.pages:
            raise Abort("the catalogue has errors; nothing was written")

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Generated pages stay out of the nav: a thousand of them in it make the build quadratic."""
        if self.site is None:  # on_pre_build always comes first
            return files
        for uri, text in self.site.pages.items():
            file = File.generated(config, uri, content=text, inclusion=InclusionLevel.NOT_IN_NAV)
            _replace(files, file)
        for uri, content in self.site.files.items():
            _replace(files, File.generated(config, uri, content=content))
        for uri, path in self.site.copies.items():
            _replace(files, File.generated(config, uri, abs_src_path=str(path)))
        return files

    def on_page_markdown(self, markdown: str, *, page: Page, **_: object) -> str:
        """Takes finished HTML blocks out: Markdown and the search plugin would parse each of their tags, twice."""
        blocks: list[str] = []

        def kept(found: re.Match[str]) -> str:
            blocks.append(found.group(1))
            return f'<div data-block="{len(blocks) - 1}"></div>'

        text = BLOCK.sub(kept, markdown)
        if blocks:
            self.blocks[page.file.src_uri] = blocks
        return text

    def on_post_page(self, output: str, *, page: Page, **_: object) -> str:
        """Puts the blocks back where they stood, and leaves out what HTML lets one leave out."""
        blocks = self.blocks.pop(page.file.src_uri, [])
        shell = BLANK.sub("\n", output)  # a third of the theme's own text is white space
        return PLACE.sub(lambda found: _slim(blocks[int(found.group(1))]), shell)

    def on_serve(self, server: LiveReloadServer, **_: object) -> LiveReloadServer:
        """A changed results file, log or catalogue file rebuilds the pages that show it."""
        server.watch(self.config.results)
        server.watch(self.config.catalogue)
        return server


def _slim(block: str) -> str:
    """The same HTML in fewer bytes: ends, line breaks between tags and quotes that HTML does without."""
    return BETWEEN_TAGS.sub("><", QUOTED.sub(r"\1\2", OPTIONAL_END.sub("", block)))


def _replace(files: Files, file: File) -> None:
    """A generated file wins over one of the same address in the docs folder."""
    known = files.get_file_from_path(file.src_uri)
    if known is not None:
        files.remove(known)
    files.append(file)
