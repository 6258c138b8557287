"""The look of the page: light, dark, narrow and print. States are told by glyph and word; colour only repeats them."""

from __future__ import annotations

__all__ = ["STYLE"]

STYLE = """
:root { color-scheme: light dark; --ink: #1b2130; --soft: #566074; --rule: #d9dde6; --page: #fff; --panel: #f5f6f9;
  --bad: #a8321c; --bad-soft: #fbeae6; --good: #2d6a4a; --open: #7a5a00; --care: #fff6dc; --care-rule: #d9b44a;
  --link: #1d56a5; --mark: #fdeeb8; }
@media (prefers-color-scheme: dark) { :root { --ink: #e3e7ee; --soft: #9ba5b6; --rule: #353c49; --page: #15181f;
  --panel: #1d222b; --bad: #f0937c; --bad-soft: #3a211c; --good: #7fc79f; --open: #e0bd5c; --care: #322a14;
  --care-rule: #8f7430; --link: #86b4f0; --mark: #4a3f17; } }
* { box-sizing: border-box; }
html { scroll-padding-top: 1rem; }
body { margin: 0 auto; max-width: 66rem; padding: 1.75rem 1.25rem 4rem; background: var(--page); color: var(--ink);
  font: 15px/1.5 system-ui, sans-serif; overflow-wrap: break-word; }
h1 { font-size: 1.45rem; line-height: 1.3; margin: .5rem 0 .6rem; max-width: 60rem; text-wrap: pretty; }
h2 { font-size: 1.1rem; margin: 2.2rem 0 .5rem; }
h3 { font-size: 1rem; margin: 1rem 0 .3rem; }
p { margin: .35rem 0; max-width: 46rem; }
a { color: var(--link); }
ul, ol { margin: .35rem 0; padding-left: 1.5rem; }
li { margin: .2rem 0; max-width: 46rem; }
code, pre, .log { font-family: ui-monospace, "SF Mono", Consolas, "DejaVu Sans Mono", monospace; font-size: .84rem; }
code { overflow-wrap: anywhere; }
.soft { color: var(--soft); }
.outcome { display: inline-block; font-weight: 600; padding: .1rem .65rem; border: 1.5px solid; border-radius: 1rem; }
.failed, .aborted { color: var(--bad); } .succeeded, .passed { color: var(--good); }
.unknown, .unfinished { color: var(--open); } .unseen { color: var(--soft); }
.source { color: var(--soft); margin-left: .6rem; }
.lead { font-weight: 600; }
.care { background: var(--care); border-left: 4px solid var(--care-rule); padding: .5rem .8rem; margin: .7rem 0;
  max-width: 50rem; }
.track { list-style: none; display: flex; flex-wrap: wrap; gap: .35rem 0; padding: 0; margin: .5rem 0 .3rem; }
.track li { margin: 0; }
.track svg { display: block; width: 6.95rem; height: 3.475rem; }
.track .shape { fill: var(--panel); stroke: currentColor; stroke-width: 1.5; }
.track .unseen .shape { stroke: var(--rule); stroke-dasharray: 4 3; fill: none; }
.track .failed .shape { fill: var(--bad-soft); stroke-width: 2.5; }
.track text { font: 600 12.5px system-ui, sans-serif; fill: var(--ink); }
.track .state { font-weight: 400; font-size: 11.5px; fill: currentColor; }
.track .glyph { fill: none; stroke: currentColor; stroke-width: 2.4; stroke-linecap: round; stroke-linejoin: round; }
.track .dot { fill: currentColor; stroke: none; }
.track .unseen text { fill: var(--soft); font-weight: 400; }
details { border: 1px solid var(--rule); border-radius: .4rem; margin: .5rem 0; }
summary { cursor: pointer; padding: .5rem .8rem; display: flex; align-items: baseline; gap: .5rem; list-style: none; }
summary::-webkit-details-marker { display: none; }
summary::before { content: "\\25B8"; color: var(--soft); width: .8rem; flex: none; }
details[open] > summary::before { content: "\\25BE"; }
details[open] > summary { border-bottom: 1px solid var(--rule); }
details > .inner { padding: .3rem .8rem .7rem; }
summary .share { flex: none; min-width: 2.5rem; font-weight: 600; font-variant-numeric: tabular-nums; }
summary .bar { flex: none; width: 5rem; height: .55rem; margin-right: .2rem; }
.bar .whole { fill: var(--rule); } .bar .part { fill: var(--link); }
.clues { list-style: none; padding-left: 0; }
.clues b { font-weight: 600; }
table { border-collapse: collapse; }
th, td { text-align: left; vertical-align: top; padding: .3rem 1rem .3rem 0; border-bottom: 1px solid var(--rule); }
th { color: var(--soft); font-size: .85rem; font-weight: 600; white-space: nowrap; }
.short { white-space: nowrap; }
.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.wide { overflow-x: auto; }
.log { background: var(--panel); border: 1px solid var(--rule); border-radius: .4rem; padding: .4rem 0; margin: .5rem 0; }
.row { display: flex; padding: 0 .7rem 0 0; }
.row > a, .row > b { flex: none; width: 5.2rem; padding-right: .9rem; text-align: right; color: var(--soft); font-weight: 400;
  text-decoration: none; font-variant-numeric: tabular-nums; user-select: none; }
.row > a:hover { text-decoration: underline; }
.row > span { flex: 1; min-width: 0; white-space: pre-wrap; overflow-wrap: anywhere; }
.row.evidence, .row.reading { background: var(--mark); }
.row.root { background: var(--bad-soft); box-shadow: inset 4px 0 var(--bad); font-weight: 600; }
.row.root > a::before { content: "\\25B6  "; color: var(--bad); }
.row:target { outline: 2px solid var(--link); outline-offset: -2px; }
.gap, .starts { padding: .15rem .7rem .15rem 5.2rem; color: var(--soft); font-family: system-ui, sans-serif; font-size: .8rem; }
.gap { border-top: 1px dashed var(--rule); border-bottom: 1px dashed var(--rule); margin: .2rem 0; }
.starts { font-weight: 600; color: var(--ink); padding-top: .4rem; }
footer { margin-top: 2.5rem; border-top: 1px solid var(--rule); padding-top: .6rem; color: var(--soft); font-size: .85rem; }
@media (max-width: 40rem) { body { padding: 1rem .8rem 3rem; } h1 { font-size: 1.25rem; } .source { display: block; margin: .3rem 0 0; }
  .row > a, .row > b { width: 3.6rem; padding-right: .5rem; } .gap, .starts { padding-left: 3.6rem; }
  .track svg { width: 6.4rem; height: 3.2rem; } code, pre, .log { font-size: .78rem; } summary .bar { display: none; } }
@media print { :root { --ink: #000; --soft: #444; --rule: #bbb; --page: #fff; --panel: #fff; --bad: #8f2412; --bad-soft: #f6e4e0;
  --good: #23573b; --open: #624800; --care: #fff; --care-rule: #777; --link: #000; --mark: #f3ecd0; }
  body { max-width: none; padding: 0; font-size: 10pt; } a { text-decoration: none; }
  h2, h3, summary { break-after: avoid; } .row, .track li, .care, tr { break-inside: avoid; }
  details::details-content { content-visibility: visible; block-size: auto; }
  details.steps:not([open]) { display: none; }
  .row.root, .row.evidence, .row.reading, .track .shape { print-color-adjust: exact; -webkit-print-color-adjust: exact; } }
"""
