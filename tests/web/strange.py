"""What nobody means to type and somebody does; every field of every form has to bear it."""

from __future__ import annotations

STRANGE = {
    "empty": "",
    "emoji": "🦜🧽🚗",
    "right to left": "\u202eהגה ורוח",
    "nul": "a\x00b",
    "huge": "9" * 20_000,
    "html": "<script>alert(1)</script>",
    "sql": "'; DROP TABLE crm_studio; --",
    "template": "{{ 7*7 }}{% load x %}",
    "lines": "a\r\nBcc: b@example.org",
    "negative": "-1",
    "exponent": "1e309",
    "not a number": "NaN",
    "wide digits": "\uff11\uff12",
    "path": "../../etc/passwd",
}
