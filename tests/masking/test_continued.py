"""A telling name at the end of a line: what is masked on the next ones, and where that ends."""

from __future__ import annotations

import pytest

from logdoctor.masking import MASK, Masker, find_secrets, mask
from logdoctor.masking.continued import MOST_LINES
from logdoctor.masking.named import is_value_of

V = "h4rbour9p1lot"

# `@` stands for the value, which is masked; `~` for a value that stays.
TEXTS = [
    "password: |\n  @", "password: >\n  @", "password: |-\n  @", "password: >+\n  @", "'password': |\n  @", '"password": |\n  @', "password: !!str |\n  @",
    "password: |\n  @\n  @\nnext: ~", "password: |\n\n  @", "  password: |\n    @\n  next: ~", "  password: |\n  ~", "  password: |\n ~", "password: |\n~",
    "- password: |\n    @", "password: |\n  @   \n", "password: |\n  /srv/fares/p1lot\nnext: x", "password: |\n  ${PASSWORD}", "password: |\n  it is the word of the day",
    "token: |\n  @", "token: |\n  harbour", "token: |\n  two words", "notes: |\n  ~", "public_key: |\n  ~", "run: |\n  ~", "password |\n  ~", "password:|\n  ~",
    "password:\n  @", "password:\n~", "password:\n  ~ and more", "password:\n  '@'", 'password:\n  "@",', 'password:\n  "@ blue"', '"password":\n    "@"',
    "password:\n\n  ~", "password =\n  @", "password:\n  name: x", "password:\n  - ~", "password:\n  abc:", "password:\n  abc;", "password:\n  abc(", "password:\n  abc{",
    "password:\n  ab1", "password:\n  abc1x", "passwords:\n  {", "Enter password:\nfares@host: ~", "password:\n  ${P}", "token:\n  harbour", "token:\n  @",
    "<password>\n  @\n</password>", "<password>\n  @</password>", "<ns:password>\n  @", '<password a="b" c="d">\n  @', "<password>\n@", "<user>\n  ~", "<password>\n  <a/>",
    "<password>\n  it is one of the words",
    "tool --password \\\n  @", "tool --password \\\n@", "tool --password=\\\n  @", "tool -Dpassword=\\\n  @ \\\n  ~", "tool --password \\\n  --next ~", "tool --password \\\n  $P",
    "tool --password \\\n  '@'", 'tool --password \\\n  "@" x', "password=\\\n  @", "password = \\\n @", "tool --user \\\n  ~", "tool --password \\\n\n  ~", "a password \\\n  ~",
    "tool --password \\\n  abc", "tool --password \\\n  ab1x",
    "[a] password: |\n[a]   @\n[a] next: ~", "[a] password: |\n[b]   ~\n[a]   @", "[a]  password: |\n[b] ~\n[b] ~\n[b] ~\n[a]    @", "[a]  password: |\n[b] ~\n[b] ~\n[b] ~\n[b] ~\n[a]    ~",
    "10:00:01 password: |\n10:00:02   @", "10:00:01   password: |\n10:00:02     @\n10:00:03   next: ~", "10:00:01 password:\n10:00:02   @", "10:00:01 password:\n10:00:02 ~",
    "x| password: |\nx|   @\ny|   ~",
    "- name: password\n  value: |\n    @\n  other: ~", "- name: password\n  value: >-\n    @", "- name: password\n  value: |\n  ~", "- name: user\n  value: |\n    ~",
    "- name: password\n  a: 1\n  b: 2\n  value: @", "- name: password\n  a: 1\n  b: 2\n  c: 3\n  value: ~", '"name": "password",\n"value": "@", "x": "~"', "name: password\nvalue: @ # ~",
    "name: password\nvalue: @,", "name = password\nvalue = '@' x '~'", "name: password\nvalue:\nx: ~", "name: password\nname: user\nvalue: ~",
]  # fmt: skip


def written(template: str, value: str) -> str:
    return template.replace("@", value).replace("~", V)


@pytest.mark.parametrize("template", [one for one in TEXTS if "fares@host" not in one])
def test_the_value_on_the_next_line_is_masked_and_nothing_else(template: str) -> None:
    template_shown = template.replace('"@ blue"', '"@"')
    text, expected = written(template, V), written(template_shown, MASK)
    expected = expected.replace("abc1x", MASK).replace("ab1x", MASK)
    assert mask(text) == expected
    masker = Masker()
    shown = "\n".join(masker.mask(line) for line in text.split("\n"))
    # Line by line a value that was found is known from then on.
    assert shown.split(MASK)[0] == expected.split(MASK)[0]
    assert shown.count(MASK) >= expected.count(MASK)


def test_a_prompt_and_a_shell_s_prompt_behind_it_stay() -> None:
    assert mask(f"Enter password:\nfares@host: {V}") == f"Enter password:\nfares@host: {V}"


def test_an_element_behind_a_prefix_is_masked_line_by_line() -> None:
    masker = Masker()
    assert masker.mask("#7 0.5 <password>") == "#7 0.5 <password>"
    assert masker.mask(f"#7 0.6   {V}") == f"#7 0.6   {MASK}"
    assert masker.mask("#7 0.7 </password>") == "#7 0.7 </password>"


def test_the_kind_is_that_of_the_name() -> None:
    assert [one.kind for one in find_secrets(f"api_key: |\n  {V}\n")] == ["API key on the line after its name"]
    assert [one.kind for one in find_secrets(f"- name: DB_PASSWORD\n  value: {V}\n")] == [
        "password on the line after its name"
    ]


def test_a_very_long_block_is_a_file() -> None:
    text = "password: |\n" + "\n".join(f"  {V}{number:02d}" for number in range(MOST_LINES + 2))
    assert mask(text).count(MASK) == MOST_LINES
    assert mask(text).endswith(f"{V}{MOST_LINES:02d}\n  {V}{MOST_LINES + 1:02d}")


def test_an_overlong_line_opens_nothing() -> None:
    for size, answer in ((980, True), (1000, False)):
        lead = " " * size
        assert (mask(f"{lead}password: |\n{lead}  {V}") != f"{lead}password: |\n{lead}  {V}") is answer


@pytest.mark.parametrize(
    ("name", "value", "answer"),
    [("DB_PASSWORD", "x", True), ("password", "x", True), ("TOKEN", "harbour", True), ("token", "harbour", False), ("token", V, True), ("password", "", False),
     ("password", "null", False), ("password", "/srv/x", False), ("DB_PASSWORD", "/srv/x", True), ("password", "it is the word", False), ("TOKEN", "12345", False),
     ("TOKEN", "123456", True)],
)  # fmt: skip
def test_a_value_is_judged_with_its_name(name: str, value: str, answer: bool) -> None:
    assert is_value_of(name, value) is answer
