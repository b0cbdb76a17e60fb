"""The style sheets and scripts that every page loads: their names are looked up once, not on every page."""

from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag
@lru_cache(maxsize=1)
def page_styles() -> SafeString:
    """``{% page_styles %}``: the icon, the style sheets, and the script that sets the theme before anything is drawn."""
    return render_to_string("_components/page_styles.html")


@register.simple_tag
@lru_cache(maxsize=1)
def page_scripts() -> SafeString:
    """``{% page_scripts %}``: the scripts of every page of the shop."""
    return render_to_string("_components/page_scripts.html")
