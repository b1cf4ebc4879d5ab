"""The files of the demo's site, as the build gives them, and written to a folder."""

from pathlib import Path

import pytest

from site_builder.build import Site


@pytest.fixture(scope="session")
def site(demo_site: Site) -> Site:
    """What goes into the demo's site."""
    return demo_site


@pytest.fixture(scope="session")
def folder(demo_site: Site, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files, where mkdocs would have put them, finished."""
    root = tmp_path_factory.mktemp("site")
    for uri, content in demo_site.files.items():
        path = root / uri
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
    demo_site.finish(root)
    return root
