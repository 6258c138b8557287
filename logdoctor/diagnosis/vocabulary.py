"""The words by which a line tells of a failure, and the lines that only tell that there was one: shared by what ranks lines."""

from __future__ import annotations

import re

from logdoctor.lazy import lazy

__all__ = ["CODE", "FRAME", "FURNITURE", "GOES_ON", "LEVEL", "SHOUTED", "SOFT", "STRONG", "SUMMARY", "WEAK"]

STRONG = lazy(
    r"\b(?:error|fatal|exception|panic(?:ked)?|abort(?:ed|ing)?|cannot|can't|could not|couldn't|unable to|denied|refused|rejected|"
    r"not found|no such|missing|invalid|illegal|unexpected|unsupported|failed|failure|undefined|unresolved|unknown|violat\w+|"
    r"mismatch|giving up|gave up|terminat(?:ed|ing)|abend(?:ed)?|stopped|wrong|bad|lost|corrupt\w*|conflict\w*|expected|expired|timed out|time-?out|exceed\w*|too (?:many|large|long)|must be|not allowed|forbidden|unauthori[sz]ed)\b",
    re.IGNORECASE,
)
LEVEL = lazy(
    r"^\s*(?:\[(?:ERROR|FATAL|error)\]|ERROR\b|FATAL\b|error\b|fatal:|FAIL\b|E  |npm (?:ERR!|error)|##\[error\]|::error|\* What went wrong|> (?=[A-Z]))|\b\w*(?:Error|Exception): "
)
CODE = lazy(r"(?:^|[\s:\[(])(?!SHA|UTF|ISO|RFC|HTTP)[A-Z]{2,}[A-Z0-9]*-?(?:[EFS]-?)?\d{3,5}[EFSW]?\b")
FRAME = lazy(
    r"^\s*(?:at [\w.$<>/]+\(|File \"|\.\.\. \d+ more|goroutine |(?:[\w.-]+/)*[a-z][\w-]*\.(?:\(\*?\w+\)\.)?\w+(?:\.func\d+)*(?:\(\.*\))?$|/\S+\.go:\d+|\d+: 0x|#\d+ 0x)"
)
WEAK = lazy(
    r"\b(?:not|no|without|refus\w+|reject\w+|differ\w*|deviat\w+|beyond|outside|promised|only|over the|too|never|nothing|may not|must|stale|"
    r"uncovered|orphan\w*|overlap\w*|duplicate\w*|clash\w*|broken|stuck|drift\w*|withdrawn|unsigned|unapproved|exceed\w*|out of)\b",
    re.IGNORECASE,
)
SUMMARY = lazy(
    r"BUILD FAIL|command finished with error|run failed: command|\bexited \(\d+\)|^\s*(?:Tasks|Cached|Time|Failed): |Please make sure you have|"
    r"and the repository exists|^\* (?:Try|Get more help|Exception is)|Execution failed for task|See the report at|For more information|ELIFECYCLE|exit(?:ed with)? (?:code|status|value)|returned a? ?non-zero|Finished: |Re-run Maven|\[Help|full stack trace|"
    r"re-run with|--stacktrace|--scan|--info|marked build as|Total time|A complete log of this run|lifecycle script|Job failed|\bjob[ _-](?:finished|ended)\b|Sending e-?mail|build environment|skipped due to|Error cloning remote repo|Could not read from remote|Error executing Maven|\breturned \d+$|\[\d+ ms\]",
    re.IGNORECASE,
)
FURNITURE = lazy(
    r"^(?:\[Pipeline\]|[{}]$|// \w+$|End of Pipeline|shell: |section_(?:start|end):|At \S+:\d+ char:\d+|\s*\+ |\s*[+|]? *~+$|\s*[-=]{4,}|##\[|Finishing: |Starting: |cleanup|uploading (?:console|logs?)\b|collecting logs\b)|\b(?:skipped|not run|not started)\s*$|"
    r"CategoryInfo|FullyQualifiedErrorId"
)
SOFT = lazy(r"^\s*(?:\[?(?:WARN(?:ING)?|warn(?:ing)?|INFO|info|DEBUG)\]?\b)|\bdeprecat", re.IGNORECASE)
# What programs add when they report an error and go on.
GOES_ON = lazy(
    r"(?i)\b(?:using (?:the |a )?(?:default|fallback|cached|built-?in)|(?:the )?defaults? (?:is|are|will be) used"
    r"|ignor(?:ed|ing)|skipp(?:ed|ing)|continuing|carrying on|going on|drawing anew|anew$|instead\.?$"
    r"|fall(?:ing|s)? ?back|retrying|will retry|trying again|now trying to|restarting|waiting (?:for )?\d+ ?s)\b|\((?:as )?expected\)$|, again$"
)
# A verdict in capitals: `OUT OF LIMITS`, `NOT THE SAME`, `STALE`; not a level, a good word or an abbreviation that many lines hold.
SHOUTED = lazy(
    r"(?<![\w/_.-])(?!(?:ERROR|ERRORS|WARN|WARNING|INFO|DEBUG|TRACE|NOTE|PASS|PASSED|SUCCESS|SUCCEEDED|DONE|TOTAL|BUILD|HTTP|HTTPS|JSON|UTC|TODO)\b)"
    r"(?:NOT? [A-Z]{2,}|[A-Z]{4,}(?: [A-Z]{2,})*)(?![\w/_.=-])"
)
