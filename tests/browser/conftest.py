"""The fixtures of the browser tests."""

from browser_kit import address, browser, folder

__all__ = ["address", "browser", "folder"]
