"""Finding one section of a unit's page."""

from playwright.sync_api import Locator, Page


def section_of(page: Page, anchor: str) -> Locator:
    """What stands between a heading and the next one."""
    path = f"//h2[@id='{anchor}']/following-sibling::*[preceding-sibling::h2[1][@id='{anchor}']]"
    return page.locator(f"xpath={path}")
