"""A page of ours as PDF, in type as large as one A4 page allows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from app.page.theme import ASSETS, FONT
from app.page.typeface import inside
from app.reading.failures import missing_extra
from shared.errors import InternalError


def one_page(html_at: Callable[[float], str], sizes: Sequence[float]) -> Any:
    """The laid-out document in the first of the sizes, in points, in which one page holds it all.

    Where none does it has more pages. Nothing is fetched from anywhere.

    Raises
    ------
    InternalError : the library that draws the page is missing. UsageError : its package is.
    """
    try:
        from weasyprint import CSS, HTML
        from weasyprint.text.fonts import FontConfiguration
        from weasyprint.urls import URLFetcher
    except ModuleNotFoundError as error:
        raise missing_extra("weasyprint") from error
    except (ImportError, OSError) as error:
        raise InternalError("The PDF needs the library Pango; install it with: make app") from error
    fonts = FontConfiguration()
    ours = CSS(string=inside(), font_config=fonts, url_fetcher=URLFetcher(allowed_protocols=("data",)))
    for size in sizes:
        page = HTML(string=html_at(size), url_fetcher=URLFetcher(allowed_protocols=()))
        document = page.render(stylesheets=[ours], font_config=fonts)
        if len(document.pages) == 1:
            break
    return document


def filled(template: str, content: Mapping[str, Any], size: float) -> str:
    """A template of ``assets/`` as one file that needs nothing else; text from people is escaped."""
    page = Environment(loader=FileSystemLoader(ASSETS), autoescape=True, undefined=StrictUndefined)
    return page.get_template(template).render(**content, size=size, font=Markup(FONT))
