"""The figures of a page as the page itself holds them."""

import json
import re


def figures_of(path) -> dict[str, dict]:
    """Figure id -> the plotly JSON that the page draws."""
    html = path.read_text(encoding="utf-8")
    found = re.findall(r'<figure id="([^"]+)".*?<script type="application/json">(.*?)</script>', html, re.DOTALL)
    return {id: json.loads(text) for id, text in found}
