"""The only file that knows mkdocs: hands it generated pages and files, and asks for a rebuild when evidence changes."""

from __future__ import annotations

import logging
import re
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from mkdocs.config import config_options
from mkdocs.config.base import Config
from mkdocs.exceptions import Abort
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files, InclusionLevel

from site_builder.build import Site, render_site
from site_builder.derived import Published
from site_builder.publish.content_policy import with_policy
from site_builder.publish.file_links import with_file_links
from site_builder.publish.heads import preview_tags

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.livereload import LiveReloadServer
    from mkdocs.structure.pages import Page

# Templates mark finished HTML like this; the place holder is what Markdown sees of it.
BLOCK_EDGE = re.compile(r"<!-- block -->\n|<!-- /block -->")
# Ends that HTML supplies by itself: the next cell, row or entry begins there (WHATWG HTML, 13.1.2.4 Optional tags).
OPTIONAL_END = re.compile(r"</(?:td|th|tr|li)>\n?")
QUOTED = re.compile(r'( (?:class|scope|id|href|datetime|type|role|rel)=)"([A-Za-z0-9./#_-]+)"(?=[ >])')
BETWEEN_TAGS = re.compile(r">\n<")
BLANK = re.compile(r"(<pre.*?</pre>)|\n\s*\n\s*|\n[ \t]+", re.DOTALL)
PLACE = re.compile(r'<div data-block="([0-9]+)"></div>')

WORKER = "sheets/worker.js"  # keeps bench sheets for when their server is out of reach
CACHE = ".cache/bench-pictures"  # beside mkdocs.yml

log = logging.getLogger("mkdocs.plugins.bench_catalogue")


class CatalogueConfig(Config):  # type: ignore[no-untyped-call]  # mkdocs's own __init_subclass__
    """Options under `plugins: bench_catalogue:` in mkdocs.yml; folders are relative to it."""

    results = config_options.Dir(exists=True, default="results")
    catalogue = config_options.Dir(exists=True, default="catalogue")
    new_file = config_options.Type(str, default="")


class CataloguePlugin(BasePlugin[CatalogueConfig]):  # type: ignore[no-untyped-call]
    """Builds the catalogue's pages before mkdocs cleans the site folder, so that bad input loses nothing."""

    site: Site | None = None

    def __init__(self) -> None:
        self.blocks: dict[str, list[str]] = {}
        self.served = False
        self.for_files = False
        self.site_name = self.site_says = ""

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], **_: object) -> None:
        """While it serves, mkdocs adds a script that is different every time; no policy can name it beforehand."""
        self.served = command == "serve"

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Heeds mkdocs's own switch for sites without a server: folders stay as they are here, and links name files."""
        self.for_files = not config.use_directory_urls
        self.site_name, self.site_says = config.site_name, config.site_description or ""
        config.use_directory_urls = True
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Derive and render everything; with any error, say all of them and stop."""
        address = config.site_url or Published().address
        published = Published(config.site_name, address, self.config.new_file)
        cache = Path(config.config_file_path or "").parent / CACHE
        self.site = render_site(Path(self.config.results), Path(self.config.catalogue), published, cache)
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
            # A page that did not come from Markdown is finished here; all others when mkdocs has made them.
            whole = self._finished(content) if isinstance(content, str) and uri.endswith(".html") else content
            _replace(files, File.generated(config, uri, content=whole))
        for uri, path in self.site.copies.items():
            _replace(files, File.generated(config, uri, abs_src_path=str(path)))
        worker = files.get_file_from_path(WORKER)
        if self.for_files and worker is not None:
            files.remove(worker)
        return files

    def on_pre_page(self, page: Page, **_: object) -> Page:
        """A page is as old as the catalogue; mkdocs would date it by its clock, and no two builds would be alike."""
        page.update_date = self.site.as_of if self.site else page.update_date
        return page

    def on_page_markdown(self, markdown: str, *, page: Page, **_: object) -> str:
        """Takes finished HTML blocks out, since Markdown would parse each of their tags."""
        first, *pieces = BLOCK_EDGE.split(markdown)
        blocks, after = pieces[::2], pieces[1::2]
        if blocks:
            self.blocks[page.file.src_uri] = blocks
        return first + "".join(f'<div data-block="{number}"></div>{text}' for number, text in enumerate(after))

    def on_post_page(self, output: str, *, page: Page, **_: object) -> str:
        """Puts the blocks back where they stood, and leaves out what HTML lets one leave out."""
        blocks = self.blocks.pop(page.file.src_uri, [])
        # Code wider than a phone scrolls, also for whoever has a keyboard only.
        shell = without_blanks(output).replace("<pre><code", "<pre><code tabindex=0")
        return self._finished(PLACE.sub(lambda found: _slim(blocks[int(found.group(1))]), self._with_head(shell, page)))

    def on_post_template(self, output_content: str, *, template_name: str, **_: object) -> str:
        """The page for addresses that do not exist; without a server nobody would show it."""
        if not template_name.endswith(".html"):
            return output_content
        return "" if self.for_files else self._finished(output_content)

    def _with_head(self, html: str, page: Page) -> str:
        """The page with what a link to it shows where it is shared."""
        tags = self.site.heads.get(page.file.src_uri) if self.site else None
        if tags is None:
            says = page.meta.get("description") or self.site_says
            tags = preview_tags(str(page.title), says, page.canonical_url or "", self.site_name)
        return html.replace("</head>", f"{tags}</head>", 1)

    def _finished(self, html: str) -> str:
        html = with_file_links(html) if self.for_files else html
        return html if self.served else with_policy(html)

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Adds what is made from the written files."""
        if self.site is not None:
            self.site.finish(Path(config.site_dir))

    def on_serve(self, server: LiveReloadServer, **_: object) -> LiveReloadServer:
        """A changed results file, log or catalogue file rebuilds the pages that show it."""
        server.watch(self.config.results)
        server.watch(self.config.catalogue)
        return server


def without_blanks(output: str) -> str:
    """A page without the white space that is a third of the theme's own text; code keeps its own."""
    return BLANK.sub(lambda found: found[1] or "\n", output)


def _slim(block: str) -> str:
    """The same HTML in fewer bytes: ends, line breaks between tags and quotes that HTML does without."""
    return BETWEEN_TAGS.sub("><", QUOTED.sub(r"\1\2", OPTIONAL_END.sub("", block)))


def _replace(files: Files, file: File) -> None:
    """A generated file wins over one of the same address in the docs folder."""
    known = files.get_file_from_path(file.src_uri)
    if known is not None:
        files.remove(known)
    files.append(file)
