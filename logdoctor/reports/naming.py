"""How hosts, users and paths look in a log: the patterns of redaction, each near-linear, and the words they rest on.

Rules of thumb, common practice without a source, but for the reserved names (RFC 2606, RFC 6762) and the form of URIs
(RFC 3986).
"""

from __future__ import annotations

import re

__all__ = ["EVERYDAY_USERS", "FREE_HOSTS", "HOST_SUFFIXES", "NO_HOSTS", "PATTERN", "SURE_HOSTS", "SURE_USERS"]

FREE_HOSTS = frozenset(["localhost", "127.0.0.1", "0.0.0.0", "::1", "::"])  # noqa: S104 - names, nothing is bound
"""Every machine has them, so they tell nothing."""

EVERYDAY_USERS = frozenset(
    """
    root git ci build builder runner agent user users admin administrator test tests tester deploy deployer jenkins maven gradle
    docker node npm python ubuntu debian ec2-user vagrant nobody default public shared home work workspace app host path
    token oauth2 anonymous guest system service daemon www-data postgres mysql nexus none null true false unknown the for with
    from not has cannot could was and password login name id timer you upstream bot scm schedule push branch
    """.split()  # noqa: SIM905 -- a table of words reads better as text
)
"""Replaced where they are a user's name, left alone elsewhere."""

NO_HOSTS = frozenset(
    """
    the a an this that any your remote server docker daemon database host port it its localhost proxy registry repository
    port resolve address to of on in for with from and or not is was has linux windows ubuntu debian macos kubernetes
    """.split()  # noqa: SIM905 -- as above
)
"""Words after "connect to" and the like that are no host's name."""

# Two letters that are also the ending of files in a build are no country here.
_FILE_ENDINGS = frozenset("py rs sh md so cc pl ps pm ai mk ml ws tf st la mo vi im".split())  # noqa: SIM905
_COUNTRIES = frozenset(
    """
    ad ae ag al am ar at au az ba be bg br by bz ca cd ch cl cn co cr cy cz de dk do dz ec ee eg es eu fi fr gb ge gr hk hr
    hu id ie il in io ir it jp ke kr kz li lt lu lv ma me mx my ng nl no nu nz pe ph pk pt ro ru sa se sg si sk su th tn tr
    tv tw ua uk us uy uz ve vn za
    """.split()  # noqa: SIM905
)
HOST_SUFFIXES = (_COUNTRIES - _FILE_ENDINGS) | frozenset(
    """
    com net org edu gov mil int biz info dev app cloud tech online site systems software digital solutions services network
    local localdomain internal intranet lan corp home private example test invalid localhost arpa onion
    """.split()  # noqa: SIM905
)
"""Last parts of a dotted name that make it a host's."""

_LABEL = r"[A-Za-z0-9_](?:[A-Za-z0-9_-]{0,61}[A-Za-z0-9])?"
_NAME = rf"{_LABEL}(?:\.{_LABEL})*"
_IPV4 = r"(?:\d{1,3}\.){3}\d{1,3}"
_PART = r"[^\s/\\:*?\"'<>|()\[\]{},;=]+"

_SOURCES = (
    r"(?:java|kts?|groovy|scala|py|[mc]?[jt]sx?|vue|svelte|go|rs|c|cc|cpp|cxx|hh?|hpp|cs|fs|vb|rb|php|swift|mm?|sh|bash|ps1|"
    r"ya?ml|json|xml|html?|s?css|less|md|txt|log|sql|proto|tf|gradle|cfg|ini|toml|lock|dart|ex|exs|erl|hs|lua|pl|r|jl|clj|"
    r"feature|properties|csproj|Dockerfile|mk|cmake)"
)

PATTERN = re.compile(
    rf"""
      (?P<url_scheme>\b[A-Za-z][A-Za-z0-9+.-]{{1,20}}://)
        (?:(?P<url_user>[^\s/@:?\#'"]{{1,255}})(?P<url_password>:[^\s/@'"]{{0,255}})?@)?
        (?P<url_host>\[[0-9A-Fa-f:.%]{{2,60}}\]|{_NAME})
        (?P<url_port>:\d{{1,5}})?
        (?P<url_tail>[/?\#][^\s'"<>]*)?
    | (?<![\w.+/@-])(?P<mail_user>[\w.+-]{{1,64}})@(?P<mail_host>(?!\d+\.){_LABEL}(?:\.{_LABEL})*\.[A-Za-z]{{2,24}}(?![\w-])|(?<=git@){_LABEL})
        (?P<scp_path>:(?!\d)[^\s'"<>]+)?
    | (?P<path>
          (?<![\w.])(?:/(?:home|Users|export/home)/(?P<home_user>{_PART})(?:/{_PART})*/?)
        | (?<!\w)[A-Za-z]:[\\/]+(?:(?:Users|Documents\ and\ Settings)[\\/]+(?P<windows_user>{_PART}))?(?:[\\/]*{_PART})*
        | (?<![\w\\])\\\\{_PART}(?:\\+{_PART})+
        | (?<![\w.:/~-])~?(?:/{_PART}){{2,}}/?
        | (?<![\w./~-])~/{_PART}
        | (?<![\w./\\@:-])/(?:tmp|var|opt|etc|usr|srv|mnt|root|data|builds?|workspace|app|work)\b/?
        | (?<![\w./\\@:-])(?:\.{{1,2}}/)?(?:[\w.@+$-]+[/\\])+[\w.@+$-]*\.[A-Za-z]\w{{0,9}}(?![\w/\\])
        | (?<![\w./\\@:-])(?:\.{{1,2}}/)?(?:[\w.@+$-]+/){{2,}}[\w.@+$-]+
      )
    | (?<![\w.-])(?P<address>{_IPV4}|[0-9A-Fa-f]{{1,4}}(?::[0-9A-Fa-f]{{1,4}}){{7}}|
        (?:[0-9A-Fa-f]{{1,4}}:){{1,6}}(?::[0-9A-Fa-f]{{1,4}}){{1,6}})(?![\w.-]*\w)
    | (?<![\w.-])(?P<dotted>{_LABEL}(?:\.{_LABEL})+)(?![\w-])
    """,
    re.VERBOSE,
)

SURE_HOSTS = re.compile(
    rf"""
      \b(?i:resolve\ host(?:name)?|unknown\ ?host(?:\ ?exception)?|connect\ to(?:\ host)?|reach\ host|no\ such\ host|
         on\ host|to\ host|lookup|enotfound|eai_again)[:\ ]+['"]?(?P<reached>{_NAME})(?![\w@-]|\.\w|[/\\]|:/)
    | \b(?:HOSTNAME|COMPUTERNAME|NODE_NAME|AGENT_NAME)=['"]?(?P<variable>{_NAME})
    | \b(?:Running|Building|Built|Executing)(?:\ remotely)?\ on\ (?P<agent>{_NAME})
    | (?<![\w./-])(?P<port>(?![\w.-]*[A-Z]){_LABEL}(?:\.{_LABEL})*\.(?!{_SOURCES}:)[a-z][\w-]*):\d{{2,5}}(?![\w.:])
    """,
    re.VERBOSE,
)

SURE_USERS = re.compile(
    r"""
      \b(?:USER|USERNAME|LOGNAME|GIT_AUTHOR_NAME|GIT_COMMITTER_NAME)=['"]?(?P<variable>[\w.@+-]{2,64})
    | \b(?i:user(?:name)?|login|account)\ ?[:=]\ ?['"]?(?P<field>[\w.@+-]{2,64})
    | \b(?i:user(?:name)?|login|account)\ ['"](?P<quoted>[\w.@+-]{2,64})['"]
    | \b(?:Started|Triggered|Requested|Pushed)\ by\ (?:user\ )?(?P<starter>[\w.@+-]{2,64})
    | (?:\ -u|\ --user(?:name)?)[\ =](?P<option>[\w.+-]{2,64})
    """,
    re.VERBOSE,
)
