"""What may not stand in any HTML the site answers, and which headers go with it."""

from html.parser import HTMLParser

from django.http import HttpResponse

__all__ = ["header_faults", "html_faults", "is_html"]

_ADDRESSES = ("href", "src", "action", "formaction", "hx-get", "hx-post", "xlink:href")


class _Strict(HTMLParser):
    """Collects what a strict policy would not run or not show: scripts, styles and handlers written into the page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.faults: list[str] = []
        self._in_script = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = {name for name, _ in attrs}
        if tag == "script" and "src" not in names:
            self.faults.append("a script without src")
        if tag == "style":
            self.faults.append("a style element")
        self._in_script = tag == "script"
        for name, value in attrs:
            address = (value or "").strip().lower()
            if name == "style" or name.startswith("on") or name.startswith("hx-on") or name == "srcdoc":
                self.faults.append(f"{name}= at <{tag}>")
            if name in _ADDRESSES and address.startswith(("javascript:", "vbscript:", "data:text")):
                self.faults.append(f"{name}={address[:40]} at <{tag}>")
            if name in ("src", "action") and address.startswith(("http:", "https:", "//")):
                self.faults.append(f"{name}={address[:60]} at <{tag}> leaves the site")

    handle_startendtag = handle_starttag

    def handle_data(self, data: str) -> None:
        if self._in_script and data.strip():
            self.faults.append(f"words inside a script: {data.strip()[:40]!r}")

    def handle_endtag(self, tag: str) -> None:
        self._in_script = False


def is_html(response: HttpResponse) -> bool:
    """Whether an answer is HTML with something in it."""
    return (
        response.get("Content-Type", "").startswith("text/html") and not response.streaming and bool(response.content)
    )


def html_faults(response: HttpResponse) -> list[str]:
    """Return what a strict content policy forbids in an answer's HTML."""
    parser = _Strict()
    parser.feed(response.content.decode())
    parser.close()
    return parser.faults


def header_faults(response: HttpResponse, *, by_link: bool) -> list[str]:
    """Return which headers an HTML answer lacks; pages behind a link are kept by nobody and told to nobody."""
    policy = {
        name: words
        for name, *words in (part.split() for part in response.get("Content-Security-Policy", "").split(";") if part)
    }
    wanted = {
        "X-Content-Type-Options": "nosniff",
        "X-Frame-Options": "DENY",
        "Referrer-Policy": "no-referrer" if by_link else "same-origin",
        **({"X-Robots-Tag": "noindex", "Cache-Control": "no-store"} if by_link else {}),
    }
    faults = [
        f"{name} is {response.get(name)!r}, not {value!r}"
        for name, value in wanted.items()
        if value not in response.get(name, "")
    ]
    if (
        policy.get("default-src") != ["'none'"]
        or policy.get("script-src") != ["'self'"]
        or policy.get("style-src") != ["'self'"]
    ):
        faults.append(f"the content policy is {response.get('Content-Security-Policy')!r}")
    faults += [
        f"{word} in {name}"
        for name, words in policy.items()
        for word in words
        if word.startswith("'unsafe") or word == "*"
    ]
    if policy.get("frame-ancestors") != ["'none'"] or policy.get("base-uri") != ["'none'"]:
        faults.append("frame-ancestors or base-uri is open")
    return faults
