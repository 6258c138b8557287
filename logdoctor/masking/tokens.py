"""Tokens that give themselves away by a published prefix or form, wherever they stand.

Prefixes are those that the issuing services publish so that leaked tokens can be found (seen: memory, unless
a standard is named). Lengths are kept below the published ones, since some services lengthened theirs.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from logdoctor.masking.model import Secret

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["TOKENS", "find_tokens"]

_EDGE = r"(?<![A-Za-z0-9])"

TOKENS: tuple[tuple[str, str, str], ...] = (
    # literals of which every such token holds one, kind, pattern; the group, where there is one, is the value
    ("ghp_", "personal access token of a code host (ghp_)", r"ghp_[A-Za-z0-9]{16,}"),
    ("gho_", "sign-in token of a code host (gho_)", r"gho_[A-Za-z0-9]{16,}"),
    ("ghu_", "user token of a code host's app (ghu_)", r"ghu_[A-Za-z0-9]{16,}"),
    ("ghs_", "job token of a code host (ghs_)", r"ghs_[A-Za-z0-9._-]{16,}"),
    ("ghr_", "refresh token of a code host (ghr_)", r"ghr_[A-Za-z0-9]{16,}"),
    ("github_pat_", "fine-grained token of a code host (github_pat_)", r"github_pat_\w{20,}"),
    ("glpat-", "personal access token of a code host (glpat-)", r"glpat-[\w.-]{16,}"),
    ("gldt-", "deploy token of a code host (gldt-)", r"gldt-[\w-]{16,}"),
    ("glrt-", "runner token of a code host (glrt-)", r"glrt-[\w.-]{16,}"),
    ("glcbt-", "job token of a code host (glcbt-)", r"glcbt-[\w.-]{16,}"),
    ("glptt-", "trigger token of a code host (glptt-)", r"glptt-[\w-]{16,}"),
    ("glft-", "feed token of a code host (glft-)", r"glft-[\w-]{16,}"),
    ("glsoat-", "service token of a code host (glsoat-)", r"glsoat-[\w-]{16,}"),
    ("glagent-", "agent token of a code host (glagent-)", r"glagent-[\w-]{16,}"),
    ("gloas-", "application secret of a code host (gloas-)", r"gloas-[\w-]{16,}"),
    ("glffct-", "feature flag token of a code host (glffct-)", r"glffct-[\w-]{16,}"),
    ("glimt-", "incoming mail token of a code host (glimt-)", r"glimt-[\w-]{16,}"),
    ("glrtr-", "registration token of a runner (glrtr-)", r"glrtr-[\w.-]{16,}"),
    ("GR1348941", "registration token of a runner", r"GR1348941[\w-]{16,}"),
    ("ATBB", "app password of a code host (ATBB)", r"ATBB[A-Za-z0-9_=.-]{24,}"),
    ("ATATT3", "API token of an issue tracker (ATATT3)", r"ATATT3[A-Za-z0-9_=.-]{24,}"),
    ("ATCTT3", "repository token of a code host (ATCTT3)", r"ATCTT3[A-Za-z0-9_=.-]{24,}"),
    ("npm_", "package registry token (npm_)", r"npm_[A-Za-z0-9]{30,}"),
    ("pypi-A", "package registry token (pypi-)", r"pypi-A[\w-]{40,}"),
    ("rubygems_", "package registry token (rubygems_)", r"rubygems_[0-9a-f]{32,}"),
    ("CLOJARS_", "package registry token (CLOJARS_)", r"CLOJARS_[0-9a-f]{32,}"),
    ("oy2", "package registry key (oy2)", r"oy2[a-z0-9]{43}(?![a-z0-9])"),
    ("AKC", "artifact repository key (AKC)", r"AKCp[0-9A-Za-z]{50,}"),
    ("cmVmd", "artifact repository reference token", r"cmVmd[A-Za-z0-9]{50,}"),
    ("dckr_pat_", "image registry token (dckr_pat_)", r"dckr_pat_[\w-]{16,}"),
    ("dckr_oat_", "image registry token of an organisation (dckr_oat_)", r"dckr_oat_[\w-]{16,}"),
    ("AKIA", "cloud access key id (AKIA)", r"AKIA[A-Z2-7]{16}(?![A-Z0-9])"),
    ("ASIA", "temporary cloud access key id (ASIA)", r"ASIA[A-Z2-7]{16}(?![A-Z0-9])"),
    ("ABIA", "cloud bearer key id (ABIA)", r"ABIA[A-Z2-7]{16}(?![A-Z0-9])"),
    ("AIza", "cloud API key (AIza)", r"AIza[\w-]{30,}"),
    ("ya29.", "cloud sign-in token (ya29.)", r"ya29\.[\w.-]{20,}"),
    ("GOCSPX-", "cloud client secret (GOCSPX-)", r"GOCSPX-[\w-]{20,}"),
    ("1//0", "cloud refresh token (1//0)", r"1//0[\w-]{30,}"),
    ("8Q~", "cloud client secret (8Q~)", r"[A-Za-z0-9_~.-]{3}8Q~[A-Za-z0-9_~.-]{31,34}"),
    ("AZDO", "personal access token of a code host (AZDO)", r"[A-Za-z0-9]{52,120}AZDO[A-Za-z0-9]{4}"),
    # The cloud's marks near the end of its storage, bus and registry keys.
    (
        "+ASt +ASb +AEh +ARm +AIoT +ACDb +ACR AzSe AzCa AzFu",
        "cloud service key with a mark",
        r"(?<![A-Za-z0-9+/])[A-Za-z0-9+/]{24,120}(?:\+(?:ASt|ASb|AEh|ARm|AIoT|ACDb|ACR)|Az(?:Se|Ca|Fu))[A-Za-z0-9+/]{3,12}={0,2}",
    ),
    ("LTAI", "cloud access key id (LTAI)", r"LTAI[A-Za-z0-9]{12,20}(?![A-Za-z0-9])"),
    ("dop_v1_", "cloud token (dop_v1_)", r"do[opr]_v1_[0-9a-f]{32,}"),
    ("doo_v1_", "cloud token (doo_v1_)", r"do[opr]_v1_[0-9a-f]{32,}"),
    ("dor_v1_", "cloud refresh token (dor_v1_)", r"do[opr]_v1_[0-9a-f]{32,}"),
    ("xox", "token of a chat service (xox)", r"xox[a-z](?:\.xox[a-z])?-[A-Za-z0-9-]{10,}"),
    ("xapp-", "app token of a chat service (xapp-)", r"xapp-\d-[A-Za-z0-9-]{20,}"),
    ("sk_live_", "secret key of a payment service (sk_live_)", r"sk_live_[A-Za-z0-9]{16,}"),
    ("rk_live_", "restricted key of a payment service (rk_live_)", r"rk_live_[A-Za-z0-9]{16,}"),
    ("sk_test_", "test key of a payment service (sk_test_)", r"sk_test_[A-Za-z0-9]{16,}"),
    ("rk_test_", "test key of a payment service (rk_test_)", r"rk_test_[A-Za-z0-9]{16,}"),
    ("whsec_", "webhook secret (whsec_)", r"whsec_[A-Za-z0-9+/=]{20,}"),
    ("sq0", "key of a payment service (sq0)", r"sq0(?:csp|atp|idp)-[\w-]{20,}"),
    (
        "shpat_ shpca_ shppa_ shpss_",
        "token of a shop service (shpat_ and kin)",
        r"shp(?:at|ca|pa|ss)_[0-9a-fA-F]{24,}",
    ),
    ("SG.", "key of a mail service (SG.)", r"SG\.[\w-]{16,}\.[\w-]{16,}"),
    ("key-", "key of a mail service (key-)", r"key-[0-9a-f]{32}(?![0-9a-f])"),
    ("xkeysib-", "key of a mail service (xkeysib-)", r"xkeysib-[0-9a-f]{32,}(?:-\w{8,})?"),
    (
        "-us1 -us2 -us3 -us4 -us5 -us6 -us7 -us8 -us9",
        "key of a mail service (-us)",
        r"[0-9a-f]{32}-us\d{1,2}(?![0-9A-Za-z])",
    ),
    ("hvs.", "token of a secret store (hvs.)", r"hvs\.[\w-]{16,}"),
    ("hvb.", "batch token of a secret store (hvb.)", r"hvb\.[\w-]{16,}"),
    ("hvr.", "recovery token of a secret store (hvr.)", r"hvr\.[\w-]{16,}"),
    (".atlasv1.", "token of an infrastructure service (atlasv1)", r"[A-Za-z0-9]{8,}\.atlasv1\.[\w-]{16,}"),
    ("dapi", "token of a data platform (dapi)", r"dapi[0-9a-f]{32}(?:-\d)?(?![0-9a-f])"),
    ("EAA", "token of a social network (EAA)", r"EAA[A-Za-z0-9]{32,}"),
    ("AGE-SECRET-KEY-1", "age secret key", r"AGE-SECRET-KEY-1[0-9A-Z]{20,}"),
    (
        "sk-proj- sk-ant- sk-or- sk-svcacct- sk-admin- T3BlbkFJ",
        "key of a model service (sk-)",
        r"sk-(?:proj-|ant-|or-|svcacct-|admin-)?[\w-]{24,}",
    ),
    ("hf_", "token of a model service (hf_)", r"hf_[A-Za-z0-9]{30,}"),
    ("glsa_", "token of a dashboard service (glsa_)", r"glsa_\w{28,}"),
    ("glc_", "token of a dashboard cloud (glc_)", r"glc_[A-Za-z0-9+/=]{30,}"),
    ("gsk_", "key of a model service (gsk_)", r"gsk_[A-Za-z0-9]{30,}"),
    ("pplx-", "key of a model service (pplx-)", r"pplx-[A-Za-z0-9]{30,}"),
    ("xai-", "key of a model service (xai-)", r"xai-[A-Za-z0-9]{40,}"),
    ("r8_", "token of a model service (r8_)", r"r8_[A-Za-z0-9]{30,}"),
    ("tskey-", "key of a private network (tskey-)", r"tskey-[a-z]{1,12}-[\w-]{16,}"),
    ("dp.", "token of a settings service (dp.)", r"dp\.(?:pt|st|ct|sa|scim|audit)\.(?:[\w-]{1,35}\.)?[A-Za-z0-9]{30,}"),
    ("pscale_", "token of a database service (pscale_)", r"pscale_(?:tkn|pw|oauth)_[\w.-]{20,}"),
    ("sbp_", "token of a database service (sbp_)", r"sbp_[0-9a-f]{30,}"),
    ("NRAK-", "key of a monitoring service (NRAK-)", r"NRAK-[A-Z0-9]{20,}"),
    ("dt0c01. dt0s01. dt0s16.", "token of a monitoring service (dt0)", r"dt0[a-z]\d\d\.[A-Z2-7]{20,}\.[A-Z2-7]{40,}"),
    ("CCIPAT_ CCIPRJ_", "token of a CI service (CCI)", r"CCIP(?:AT|RJ)_[A-Za-z0-9_]{30,}"),
    ("bkua_", "token of a CI service (bkua_)", r"bkua_[0-9a-f]{30,}"),
    ("figd_", "token of a design tool (figd_)", r"figd_[\w-]{30,}"),
    ("ntn_", "token of a notes service (ntn_)", r"ntn_[A-Za-z0-9]{40,}"),
    ("secret_", "token of a notes service (secret_)", r"secret_[A-Za-z0-9]{43}(?![A-Za-z0-9])"),
    ("nfp_", "token of a hosting service (nfp_)", r"nfp_[A-Za-z0-9]{30,}"),
    ("HRKU-", "key of a hosting service (HRKU-)", r"HRKU-[\w-]{30,}"),
    ("rnd_", "key of a hosting service (rnd_)", r"rnd_[A-Za-z0-9]{28,}"),
    ("fm1r_ fm2_ fo1_", "token of a hosting service (fm2_)", r"(?:fm1r|fm2|fo1)_[\w+/=-]{30,}"),
    ("sntryu_", "user token of an error tracker (sntryu_)", r"sntryu_[0-9a-f]{40,}"),
    ("ops_eyJ", "token of a password store (ops_)", r"ops_eyJ[\w+/=-]{40,}"),
    (":AA", "token of a chat bot", r"\d{8,10}:AA[\w-]{32,}"),
    ("PMAK-", "key of an API tool (PMAK-)", r"PMAK-[0-9a-f]{20,}-[0-9a-f]{20,}"),
    ("lin_api_", "key of an issue tracker (lin_api_)", r"lin_api_[A-Za-z0-9]{20,}"),
    ("squ_", "user token of a code analysis server (squ_)", r"squ_[0-9a-f]{32,}"),
    ("sqp_", "project token of a code analysis server (sqp_)", r"sqp_[0-9a-f]{32,}"),
    ("sqa_", "analysis token of a code analysis server (sqa_)", r"sqa_[0-9a-f]{32,}"),
    ("sntrys_", "token of an error tracker (sntrys_)", r"sntrys_[A-Za-z0-9+/=_]{30,}"),
    ("pul-", "token of an infrastructure tool (pul-)", r"pul-[0-9a-f]{32,}"),
    ("sha256~", "token of a cluster (sha256~)", r"sha256~[\w-]{30,}"),
    # RFC 7519: header and claims start as base64url of '{"'; the signature may be missing when a line was cut.
    (
        "eyJ",
        "signed token (JWT)",
        r"eyJ[\w-]{8,1024}+\.eyJ[\w-]{8,}+(?:\.[\w-]*)?|eyJ[\w-]{8,1024}+\.[\w-]*+\.[\w-]{4,}(?:\.[\w-]+){0,2}",
    ),
    ("$apr1$", "password hash ($apr1$)", r"\$apr1\$[./A-Za-z0-9]{1,8}\$[./A-Za-z0-9]{16,}"),
    ("$2a$ $2b$ $2y$ $2x$ $2$", "password hash ($2y$)", r"\$2[abxy]?\$\d\d\$[./A-Za-z0-9]{40,}"),
    ("$6$", "password hash ($6$)", r"\$6\$(?:rounds=\d+\$)?[./A-Za-z0-9]{1,16}\$[./A-Za-z0-9]{40,}"),
    ("$5$", "password hash ($5$)", r"\$5\$(?:rounds=\d+\$)?[./A-Za-z0-9]{1,16}\$[./A-Za-z0-9]{30,}"),
    ("$1$", "password hash ($1$)", r"\$1\$[./A-Za-z0-9]{1,8}\$[./A-Za-z0-9]{20,}"),
    ("$argon2", "password hash ($argon2)", r"\$argon2(?:id|i|d)\$[\w=,$+/.-]{30,}"),
    ("$y$", "password hash ($y$)", r"\$y\$[./A-Za-z0-9]{1,8}\$[./A-Za-z0-9]{1,86}\$[./A-Za-z0-9]{40,}"),
    ("{SSHA", "password hash ({SSHA})", r"\{SSHA\d{0,3}\}[A-Za-z0-9+/=]{20,}"),
    ("{SHA}", "password hash ({SHA})", r"\{SHA\}[A-Za-z0-9+/=]{20,}"),
    # The build tool's own guide on password encryption: base64 in braces (seen: memory).
    ("=}", "encrypted password in braces", r"(?<![$#%])\{([A-Za-z0-9+/]{22,}={1,2})\}"),
)

FREQUENT: tuple[tuple[str, str, str], ...] = (
    # The same, where the fixed part is too frequent in ordinary logs to pick lines by.
    ("cio", "package registry token (cio)", r"cio[A-Za-z0-9]{32}(?![A-Za-z0-9])"),
    ("pat", "token of a spreadsheet service (pat)", r"pat[A-Za-z0-9]{14}\.[0-9a-f]{64}"),
    ("SK", "key of a telephone service (SK)", r"SK[0-9a-f]{32}(?![0-9a-f])"),
)

_SIGNS = "_-$.+{:~/"


def _by_sign() -> tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]:
    """The forms by a sign that their literal holds: a line without the sign needs no look for any of them."""
    groups: dict[str, list[tuple[str, str, str]]] = {}
    for literals, kind, pattern in (*TOKENS, *FREQUENT):
        for literal in literals.split():
            sign = next((sign for sign in _SIGNS if sign in literal), "")
            groups.setdefault(sign, []).append((literal, kind, pattern))
    return tuple((sign, tuple(forms)) for sign, forms in groups.items())


_BY_SIGN = _by_sign()


def find_tokens(text: str) -> Iterator[Secret]:
    """Every token of a published form."""
    for sign, forms in _BY_SIGN:
        if sign not in text:
            continue
        for literal, kind, pattern in forms:
            if literal in text:
                for match in _compiled(pattern).finditer(text):
                    start, end = match.span(1) if match.re.groups else match.span()
                    yield Secret(start, end, kind)


@cache
def _compiled(pattern: str) -> re.Pattern[str]:
    edge = "" if pattern.startswith((r"\$", r"\{", "(?<!")) else _EDGE
    return re.compile(f"{edge}(?:{pattern})")
