"""A value beside a telling name, at the edges: where it ends, what follows it, and what only looks like one."""

from __future__ import annotations

import pytest

from logdoctor.masking import MASK, looks_secret, mask
from tests.masking.marked import as_printed, as_shown

AFTER_A_COLON = [
    "password: «harbour»", "password = «abc»", "password: «harbour», next", "password: «a1b2c3» next", "password: «harbour12»; next",
    "(password: «harbour12») next", "password: «harbour12»| next", "password: «harbourX»", "password = «harbour»\nnext",
    # a word before a bracket, a question or a list is code or prose; two letters are no password
    "password: harbour;", "(password: harbour)", "password: harbour?", "password: harbour(", "password: harbour:", "password: harbour|",
    "password: a1b2c3; next", "(password: a1b2c3) next", "password: a1b2c3| next", "password: a1b2c3: next", "password: a1b2c3? next",
    "password: a1b2c3( next", "password: ab", "password: harbour next", "password: a1b2c next",
    "prompt for password: harbour", "length of password: harbour", "length of password: «h4rbour»",
]  # fmt: skip
IN_QUOTES = [
    'first line\npassword="«harbour»"', 'password="«harbour»\nsaid "blue"\nend', "password='«harbour»\nit isn't 'blue'",
    'password="«h4rbour9\\\\»", user="fares"', 'password="«h4rbour\\"»" user="fares"', 'password="«a\\"b»" user="fares"',
    'export DB_TOKEN="«harbour pilots»"', '--api-key="«harbour»"', '-Dnpm.token="«harbour»"', '-PmyToken="«harbour»"',
    'passphrase: "«harbour is the word»"', 'PassPhrase: "«harbour is the word»"', '"token": "«h4rbour9p1lot»"',
    'api-key="harbour"', '"token": "harbour!x"', '"token": "harbour12"', 'password: "harbour is the word"', 'password=""',
]  # fmt: skip
OPTIONS = [
    '--password "«harbour pilots»" x', "--password '«harbour pilots»' x", "--password «harbourX»", "--password «harbour», x", "--password «harbour»);",
    '--password \\"«harbour»\\" --user \\"fares\\"', 'sh -c "tool --password \\"«harbour»\\" --user \\"fares\\""',
    '--password "" x', "--password '' x", "--password is, x", "--token option: x", "(see --password or)", "--password ==x1y2z3", "--password |x1y2z3",
    "--password >x1y2z3", "--password (x1y2z3", "--password &&x1y2z3",
]  # fmt: skip
OTHERS = [
    # an index or a number in brackets, words in a sentence, identifiers that are handed on
    "password[1234567]", "password[«h4rbour9»]", "user[fares], password[«harbour»]", "user[fares]; password[«harbour»]",
    "the password is harbour12", "the password is har!bour", "the password is «h4rbour9p1lot»",
    "login(user, password=secret_value) x", "login(user, password=secret_value, x)", "login(password=secret_value)",
    "login(user, password=«secret_value1») x", "login password=«secret_value», x",
    # how name and value are joined decides how much the value must tell
    "DB_PASSWORD= harbour next", "DB_PASSWORD =harbour next", "password:=«harbour» next", "run DB_PASSWORD=«harbour»; next",
    "?a=1&token=«harbour»&b=2", "?a=1&amp;token=«harbour»", "?amp;token=«harbour»", "-PmyToken=«harbour»", "--token=«harbour»", "--token:«harbour» next",
    "/p:PublishToken=«harbour»", "-p:PublishToken=«harbour»", "PublishToken=harbour", "/p:PublicKeyToken=b03f5f7f11d50a3a", "/p:PublishToken=",
    "<password>«blue red green grey pink gold teal»</password>", "<password>blue red green grey pink gold teal navy</password>",
]  # fmt: skip


@pytest.mark.parametrize("line", [*AFTER_A_COLON, *IN_QUOTES, *OPTIONS, *OTHERS])
def test_the_value_beside_a_name_is_masked_and_nothing_else(line: str) -> None:
    assert mask(as_printed(line)) == as_shown(line)


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("password = harbour", "password in an assignment"),
        ("password: harbour", "password after a colon"),
        ("--password harbour", "password in a command-line option"),
        ("/p:PublishToken=harbour", "token in a command-line option"),
    ],
)
def test_a_kind_says_how_name_and_value_are_joined(line: str, kind: str) -> None:
    assert looks_secret(line) == [kind]


STRONG = [
    "password", "storepass", "pwd", "psw", "client_secret", "client.secret", "secret-key", "secret_access_key", "db_pw", "authToken", "access_token", "accountKey",
    "sharedAccessKey", "shared_access_signature", "_auth",
]  # fmt: skip
WEAK = ["token", "secret", "api_key", "credentials", "refresh_token", "private-key"]


@pytest.mark.parametrize("name", STRONG)
def test_any_word_beside_such_a_name_is_a_secret(name: str) -> None:
    for form in ("{}=«harbour»", "{}: «harbour»", '"{}": "«harbour»"'):
        line = form.format(name)
        assert mask(as_printed(line)) == as_shown(line)


@pytest.mark.parametrize("name", WEAK)
def test_a_word_beside_a_name_that_much_else_has_is_none(name: str) -> None:
    for form in ("{}=harbour", "{}: harbour", '"{}": "harbour"'):
        assert mask(form.format(name)) == form.format(name)


@pytest.mark.parametrize(
    "word",
    ["token", "password", "passwd", "secret", "api_key", "apikey", "api-key", "your_token", "key", "credentials", "DB_PASSWORD", "(Token)", "{secret}"],
)  # fmt: skip
def test_a_word_for_a_secret_is_none_itself(word: str) -> None:
    for form in ("db_password={}", "--db_password {}", "db_password: {}"):
        assert mask(form.format(word)) == form.format(word)


def test_the_name_again_is_no_secret_unless_it_is_very_short() -> None:
    assert mask("--db-pwd DB-PWD") == "--db-pwd DB-PWD"
    assert mask("pwd=pwd") == "pwd=pwd"
    assert mask("pw=pw") == f"pw={MASK}"


BESIDE = [
    # the value of an element that names itself by an attribute or a neighbour
    '<add key="password" value="«harbour»"/>', "{'name': 'password', 'value': '«harbour»'}",
    '{\\"name\\": \\"password\\", \\"value\\": \\"«h4rbour9»\\", \\"x\\": \\"y\\"}',
    '{\\\\"name\\\\": \\\\"password\\\\", \\\\"value\\\\": \\\\"«h4rbour9»\\\\", \\\\"x\\\\": 1}',
    '<property name="password">«harbour»</property>', "<property name='password'>«harbour»</property>", "<password>«Xharbour»",
    "npm config set --location=user _auth «harbour»", "npm config set --location=user _password «harbour»",
    "<user>:<password>@host", "<password>@host", "<password>«@harbour»</password>", "<password>:x", "<ns:password>«harbour»</ns:password>",
    '<input type="password">harbour', "<input type='password'>harbour", "<token>«harbour»</token>", '"<password>«harbour»</password>"',
    # settings and variables that stand before their value with a space
    "npm config set _auth «harbour»", "npm config set //r.brackwater.example/:_password «harbour»", "ENV API_TOKEN «harbour»", "setx API_TOKEN «harbour»",
    "ENV apitoken harbour", "a token harbour", "API_TOKEN harbour", "-token «harbour»", "--token «harbour»", "a -token «harbour»",
    # what stands before the name reaches only so far, and names that only look telling are none
    "x" * 80 + "_password=«harbour»", "x" * 200 + "_token=«h4rbour9p1lot»", "max_token=h4rbour9p1lot", "password~harbour", "password|harbour",
    "password=«harbour» password=«pilot» password=«boat»", "token=harbour password=«pilot»",
    # how sure the form is decides how much the value must tell
    "token[«a1b2c3d4e5f6a7b8»]", "token[h4rbour9]", "DB_TOKEN=«harbour»", "db_token=harbour", "password: /srv/harbour", "password=/srv/harbour",
    "DB_PASSWORD=«/srv/harbour»", "DB_TOKEN=/srv/harbour", "DB_TOKEN=12345", "DB_TOKEN=«123456»", "PWD=/srv/harbour", "DB_PWD=/srv/harbour", "token: config.key",
]  # fmt: skip


@pytest.mark.parametrize("line", BESIDE)
def test_how_a_name_is_joined_to_its_value(line: str) -> None:
    assert mask(as_printed(line)) == as_shown(line)
