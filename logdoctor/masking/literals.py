"""Byte strings that pick the lines worth a look: each line with a secret of a known kind holds one, or `URL_SECRET` hits.

Lines of encoded data with no telling word (a key block whose BEGIN line was cut off) can't be picked this way.
"""

from __future__ import annotations

from logdoctor.masking.tokens import TOKENS
from logdoctor.masking.words import COMPOUNDS, spelled

__all__ = ["LITERALS"]

# The part that both the lower-case and the capitalised spelling hold stands first, then the upper-case one.
_WORDS = """
assword ASSWORD asswd ASSWD asswort ASSWORT assphrase ASSPHRASE asscode ASSCODE ecret ECRET token Token TOKEN
redential REDENTIAL pwd PWD Pwd PSW psw= psw: _pw= _PW= _pw: -pw= dockerconfigjson storepass Storepass storePass StorePass STOREPASS keypass Keypass keyPass
KeyPass KEYPASS STORE_PASS KEY_PASS store-pass key-pass store_pass key_pass _pass= _PASS= .pass= Pass= -pass _pass: .pass: pass"
uthorization UTHORIZATION Bearer bearer ookie: ookie" ookie' OOKIE _auth _AUTH "auth" auth\\" 'auth' sonar.login haredAccess haredaccess SHARED_ACCESS
?sig= &sig= ignature= IGNATURE= ?key= &key= ?code= &code= ?auth= &auth= ?pass= &pass= SESSID= sessid= JSESSIONID jsessionid
essionid= ession_id= essionId= sid= sshpass redis-cli lftp
X-JFrog x-jfrog -ignature -signature X-Registry x-registry /services/T /webhooks/ webhookb2 :thin: :oci
""".split()  # noqa: SIM905 -- a table of words reads better as text
_PHRASES = (
    "PRIVATE KEY", "curl ", "wget ", "curl.exe", " login ", "logon ", "sudo -S", "sudo -s", " -u ", "--user", " -emp ", " -ep ",
    "mongo ", "mongosh ", "mongodump ", "ldapsearch", "ldapadd", "ldapmodify", "ldapwhoami", "skopeo ", "oras ", "helm ",
    "jfrog ", "jf ", "rclone ", "aria2c ", "ncftpput ", "-pass ", "pass:", "mysql ", "mysqldump ", "mysqladmin ",
    "mariadb ", "mariadb-dump ", "twine ", "nuget push", "openssl ", "cargo login", "vault login", "nuget setapikey", "nuget setApiKey", "nuget SetApiKey", "http-basic.", "bundle config",
    "BUNDLE_", "ass phrase", "ASS PHRASE", "ass Phrase", "ass-phrase", "ass_phrase", "ASS_PHRASE", "gem push", " auth ", "authtoken ",
    '<add key="http', "<add key='http", '<add key=\\"http', "nuget add", "nuget update", "nuget sources", "conan user", "conan remote", "mongorestore ",
    *(f"/bot{digit}" for digit in range(1, 10)),
)  # fmt: skip


def _all() -> list[str]:
    names = [spelling for halves in COMPOUNDS for spelling in spelled(*halves)]
    return [
        *_WORDS,
        *_PHRASES,
        *names,
        *(literal for literals, _, _ in TOKENS for literal in literals.split()),
    ]


LITERALS: tuple[bytes, ...] = tuple(sorted({word.encode("ascii") for word in _all()}))
