"""The page's colours, once for light and once for dark, and how the server is set up."""

from __future__ import annotations

from pathlib import Path
from typing import Any

ASSETS = Path(__file__).parents[1] / "assets"
#: The typeface among the assets, with its licence: the letters of western Europe, every weight in one file.
TYPEFACE, TYPEFACE_FILE = "Atkinson Hyperlegible Next", "atkinson-hyperlegible-next-5.3.0.woff2"
WEIGHTS = "200 800"
#: Where the page's own files are fetched by name.
OURS = "/ours/"
TYPEFACE_AT = OURS + TYPEFACE_FILE
#: What stands in for signs that it lacks, and wherever it cannot be had.
FONT = (
    f'"{TYPEFACE}", "Avenir Next", "Segoe UI", Cantarell, "Noto Sans", "DejaVu Sans", system-ui, sans-serif'
)
#: Sizes of type beside the text's own, 1rem: four in all, and every style sheet of the page keeps to them.
SIZES = {"small": ".875rem", "large": "1.25rem", "title": "clamp(1.55rem,4.6vw,2rem)"}
#: The greatest clip that is taken, in MB: a minute of a phone at its finest, ten at its usual.
LARGEST_CLIP_MB = 400

LIGHT = {
    "backgroundColor": "#f6f4ef", "secondaryBackgroundColor": "#fffdf9", "textColor": "#20262b",
    "primaryColor": "#3f5f73", "borderColor": "#8a8473", "linkColor": "#34546a",
    "redColor": "#a32a17", "redTextColor": "#a32a17", "redBackgroundColor": "#fbeae5",
    "blueColor": "#3f5f73", "blueTextColor": "#34546a", "blueBackgroundColor": "#e8eef1",
    "yellowColor": "#b98a2f", "yellowTextColor": "#6f500f", "yellowBackgroundColor": "#f7efdc",
    "greenColor": "#3f5f73", "greenTextColor": "#34546a", "greenBackgroundColor": "#e8eef1",
}  # fmt: skip
DARK = {
    "backgroundColor": "#171a1d", "secondaryBackgroundColor": "#1f2428", "textColor": "#e9e6df",
    "primaryColor": "#9cc0d6", "borderColor": "#6c757c", "linkColor": "#9cc0d6",
    "redColor": "#ff9a83", "redTextColor": "#ff9a83", "redBackgroundColor": "#38211c",
    "blueColor": "#9cc0d6", "blueTextColor": "#9cc0d6", "blueBackgroundColor": "#24313a",
    "yellowColor": "#c99b45", "yellowTextColor": "#e0bb6a", "yellowBackgroundColor": "#332b1b",
    "greenColor": "#9cc0d6", "greenTextColor": "#9cc0d6", "greenBackgroundColor": "#24313a",
}  # fmt: skip
SHARED = {
    "font": FONT, "headingFont": FONT, "baseFontSize": 17,
    "headingFontSizes": ["2rem", "1.25rem", "1rem", "1rem", "1rem", ".875rem"],
    "baseRadius": "6px", "buttonRadius": "6px", "showWidgetBorder": True,
}  # fmt: skip


def server_config(host: str, port: int, secrets: Path | None = None) -> dict[str, Any]:
    """What the server is told: where to listen, how much to take, how to look, to call nobody.

    secrets: the file with the credentials of the studio's sign-in provider, where there is one.
    """
    config: dict[str, Any] = {
        "server.address": host,
        "server.port": port,
        "server.headless": True,
        "server.fileWatcherType": "none",
        "server.runOnSave": False,
        "server.enableXsrfProtection": True,
        "server.enableCORS": True,
        "server.maxUploadSize": LARGEST_CLIP_MB,
        "server.showEmailPrompt": False,
        "browser.gatherUsageStats": False,
        "browser.serverAddress": "localhost" if host in ("0.0.0.0", "::") else host,
        "client.showErrorDetails": "none",
        "client.showErrorLinks": False,
        "client.toolbarMode": "minimal",
        "logger.level": "warning",
        "secrets.files": [str(secrets)] if secrets is not None else [],
    }
    config |= {f"theme.{key}": value for key, value in SHARED.items()}
    config["theme.fontFaces"] = [{"family": TYPEFACE, "url": TYPEFACE_AT, "weight": WEIGHTS}]
    config |= {f"theme.light.{key}": value for key, value in LIGHT.items()}
    config |= {f"theme.dark.{key}": value for key, value in DARK.items()}
    return config


def palette(kind: str) -> dict[str, str]:
    """The colours of our own markup, by the names that ``assets/page.css`` uses."""
    if kind == "dark":
        return {
            "paper": "#171a1d", "card": "#1f2428", "ink": "#e9e6df", "soft": "#a9b0b6", "line": "#4a5259",
            "brass": "#e0bb6a", "brass-fill": "#c99b45", "flag": "#ff9a83", "flag-wash": "#38211c",
            "steel": "#9cc0d6", "steel-2": "#49687b", "link": "#9cc0d6", "on": "#171a1d",
        }  # fmt: skip
    return {
        "paper": "#f6f4ef", "card": "#fffdf9", "ink": "#20262b", "soft": "#59626a", "line": "#cfc9bb",
        "brass": "#7d5a12", "brass-fill": "#b98a2f", "flag": "#a32a17", "flag-wash": "#fbeae5",
        "steel": "#3f5f73", "steel-2": "#8fb0c3", "link": "#34546a", "on": "#ffffff",
    }  # fmt: skip
