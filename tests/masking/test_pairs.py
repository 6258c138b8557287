"""A name on one line and its value on one of the next."""

from __future__ import annotations

import random
import string

import pytest

from logdoctor.masking import MASK, Masker, find_secrets, mask

PAIRS = [
    "- name: DB_PASSWORD\n  value: {}",
    '- name: DB_PASSWORD\n  value: "{}"',
    "        - name: 'DB_PASSWORD'\n          value: '{}'",
    "- name: DB_PASSWORD\n  type: string\n  value: {}",
    "- name: DB_PASSWORD   \n  value: {}   # staging",
    "- key: api-token\n  value: {}",
    '{\n  "name": "DB_PASSWORD",\n  "value": "{}"\n}',
    '  "Key": "deployToken",\n  "Value": "{}",',
    '"ParameterKey": "DbPassword",\n"ParameterValue": "{}"',
    "<name>fares.db.password</name>\n<value>{}</value>",
    "  <key>apiKey</key>\n  <value>{}</value>",
    'name  = "DB_PASSWORD"\nvalue = "{}"',
    "[deploy] - name: DB_PASSWORD\n[test] Tests run: 3\n[deploy]   value: {}",
    "2026-03-02T10:11:12Z - name: DB_PASSWORD\n2026-03-02T10:11:12Z   value: {}",
]
ORDINARY = [
    "- name: DB_HOST\n  value: db7.staging.brackwater.example",
    "- name: DB_PASSWORD\n  valueFrom:\n    secretKeyRef:\n      name: fares-db\n      key: password",
    "- name: DB_PASSWORD\n  value: $(DB_PASSWORD)",
    '- name: DB_PASSWORD\n  value: "{{ .Values.password }}"',
    "- name: DB_PASSWORD\n  value: ***",
    "- name: DB_PASSWORD\n- name: FARES_REGION\n  value: north7-harbour2x",
    "- name: TLS_KEY_PASSWORD_FILE\n  value: 9f8Ga7Kd62hQp1Zx",
    "- name: PRIVATE_KEY\n  value: /run/secrets/fares.pem",
    "- name: MAX_TOKENS\n  value: 128000",
    "name: Publish token\nvalue: 9f8Ga7Kd62hQp1Zx",
    "<name>fares.region</name>\n<value>north7-harbour2x</value>",
    "key: cache-9f8Ga7Kd62hQp1Zx\nvalue: 9f8Ga7Kd62hQp1Zx",
    "name: DB_PASSWORD\none\ntwo\nthree\nvalue: 9f8Ga7Kd62hQp1Zx",
]


def canary(seed: str) -> str:
    rng = random.Random(seed)
    return "a1" + "".join(rng.choice(string.ascii_letters + string.digits) for _ in range(18))


def line_by_line(text: str) -> str:
    masker = Masker()
    return "\n".join(masker.mask(line) for line in text.split("\n"))


@pytest.mark.parametrize("pair", PAIRS)
def test_the_value_is_masked_in_a_text_and_line_by_line(pair: str) -> None:
    value = canary(pair)
    text = pair.replace("{}", value, 1)
    expected = pair.replace("{}", MASK, 1)
    assert mask(text) == expected
    assert line_by_line(text) == expected
    (secret,) = find_secrets(text)
    assert text[secret.start : secret.end] == value


@pytest.mark.parametrize("pair", PAIRS)
def test_a_value_learned_line_by_line_is_masked_elsewhere(pair: str) -> None:
    value = canary(pair)
    masker = Masker()
    for line in pair.replace("{}", value, 1).split("\n"):
        masker.learn(line)
    assert masker.mask(f"connecting with {value} now") == f"connecting with {MASK} now"


@pytest.mark.parametrize("text", ORDINARY)
def test_an_ordinary_pair_stays_as_it_is(text: str) -> None:
    assert mask(text) == text
    assert line_by_line(text) == text


def test_windows_line_ends_make_no_difference() -> None:
    assert mask("- name: DB_PASSWORD\r\n  value: h4rbour9p1lot\r\n") == f"- name: DB_PASSWORD\r\n  value: {MASK}\r\n"


def test_each_pair_of_a_list_is_judged_by_its_own_name() -> None:
    text = "env:\n- name: DB_USER\n  value: h4rbour9user\n- name: DB_PASSWORD\n  value: h4rbour9p1lot\n- name: REGION\n  value: north7"
    assert line_by_line(text) == text.replace("h4rbour9p1lot", MASK)


def test_the_kind_says_where_it_stands() -> None:
    (secret,) = find_secrets("- name: DB_PASSWORD\n  value: h4rbour9p1lot")
    assert secret.kind == "password on the line after its name"
