"""Lines that a log may hold and a format may trip over, and logs made of them; shared by the tests of all formats."""

from __future__ import annotations

import re

__all__ = ["HOSTILE", "LONE_SURROGATE", "UNSAFE", "hostile_logs"]

LONE_SURROGATE = "\ud800"

UNSAFE = re.compile(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u00ad\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ud800-\udfff]")
"""What a person would not see, or a terminal would act on; written here apart from the code that replaces it."""

HOSTILE: dict[str, str] = {
    "cdata-end": "before ]]> after ]]]]><![CDATA[>",
    "script-end": "</script><script>window.hit=1</script>",
    "style-end": "</style><style>body{display:none}</style>",
    "title-end": "</title><img src=x onerror=window.hit=1>",
    "image": '<img src="https://evil.example/p.png" onerror="window.hit=1">',
    "frame": "<iframe src='https://evil.example/'></iframe><object data=x></object>",
    "comment": "<!-- comment --> <!doctype html> <?xml version='1.0'?>",
    "entities": "&lt;b&gt; &amp; &#60;script&#62; &copy; &bogus;",
    "attribute": '" onmouseover="window.hit=1" x=\'',
    "pipes": "a | b || c | --- | --- |",
    "backtick": "one ` two `` three ``` four ```` end`",
    "fence": "```",
    "long-fence": "`" * 40,
    "tilde-fence": "~~~~~~ html",
    "md-image": "![pixel](https://evil.example/p.png)",
    "md-link": "[click](https://evil.example/x) [ref][1] <https://evil.example/y>",
    "md-reference": "[1]: https://evil.example/z",
    "md-script-link": "[x](javascript:window.hit=1)",
    "md-heading": "# heading",
    "md-underline": "=====",
    "md-list": "- item",
    "md-number": "1. item",
    "md-quote": "> quote",
    "md-rule": "***",
    "md-emphasis": "*a* **b** _c_ __d__ ~~e~~ $x$",
    "md-table": "| a | b |",
    "md-html-block": "<details open><summary>x</summary>",
    "autolink": "see https://evil.example/a?b=c&d=e and www.evil.example/x",
    "mail": "write to mailto:mallory@evil.example or mallory@evil.example",
    "mention": "@everyone @here @brackwater/crew #1 GH-2 <!channel> <@U123>",
    "short-code": ":bomb: :+1:",
    "colours": "\x1b[31mred\x1b[0m \x1b[1;4munderlined\x1b[m",
    "title-code": "\x1b]0;title\x07text",
    "hyperlink-code": "\x1b]8;;https://evil.example/\x1b\\link\x1b]8;;\x1b\\",
    "clear-screen": "\x1b[2J\x1b[H",
    "eight-bit-code": "\x9b31m red",
    "lone-surrogate": f"a{LONE_SURROGATE}b",
    "nul": "a\x00b",
    "forbidden-in-xml": "".join(chr(c) for c in range(1, 32) if c not in (9, 10, 13)),
    "high-controls": "".join(chr(c) for c in range(0x7F, 0xA0)),
    "noncharacters": "\ufffe \uffff \U0001fffe",
    "bidi": "\u202eevil\u202c \u2066x\u2069 \u200f",
    "invisible": "a\u200bb\u00adc\ufeffd\u2060e",
    "separators": "one\u2028two\u2029three\x85four",
    "carriage-return": "old state\rnew state",
    "form-feed": "a\x0bb\x0cc",
    "tabs": "\ta\tb",
    "combining": "e" + "\u0301" * 60,
    "wide": "日本語のログ 🚢 👩‍🔧",
    "long": "x" * 20_000,
    "long-words": "word " * 4_000,
    "long-markup": "<b>&|`*" * 3_000,
    "order": "::error file=a::b ##vso[task.setvariable]x ::set-output name=a::b",
    "format-codes": "%s %n {0} {line} ${HOME} $(id) `id`",
    "formula": '=HYPERLINK("https://evil.example")',
    "quotes": "'\"\\'\\\" \\u003cscript\\u003e",
    "backslash-end": "ends with a backslash \\",
    "empty": "",
    "blank": "   ",
}


def hostile_logs(line: str) -> dict[str, bytes]:
    """Failed builds with this line in every place that a report shows."""
    said = line.replace("\n", " ")
    around = "an ordinary line of a build log\n" * 200
    known = (
        f"{around}+ git fetch origin\n{said}\n"
        f"fatal: Authentication failed for 'https://git.brackwater.example/{said}.git/'\n{said}\n"
        f"ERROR: {said}\n{said}\nFinished: FAILURE\n"
    )
    compile_errors = (
        f"{around}[INFO] --- compiler:3.13.0:compile (default-compile) @ {said} ---\n[ERROR] COMPILATION ERROR : \n{said}\n"
        f"[ERROR] /home/ci/{said}/Fare.java:[12,8] cannot find symbol {said}\n"
        f"[ERROR] /home/ci/src/Berth.java:[3,1] {said}\n[INFO] 2 errors\n{said}\n[INFO] BUILD FAILURE\n"
    )
    unknown = (
        f"{around}+ ./sail --all\n{said}\nbad moon rising: giving up {said}\n{said}\n"
        f"ERROR: script returned exit code 3\n{said}\nFinished: FAILURE\n"
    )
    texts = {"known": known, "compile": compile_errors, "unknown": unknown}
    return {name: text.encode("utf-8", "surrogatepass") for name, text in texts.items()}
