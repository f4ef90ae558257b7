"""How the report looks: readable on a phone, quiet on paper, no font or picture from elsewhere.

Rule: colour never says anything that a word does not say too.
"""

STYLE = """
:root { color-scheme: light; --ink: #1c2a2e; --soft: #51636a; --line: #c9d3d5; --paper: #fdfdfb; --shade: #eef2f1;
  --danger: #9c1c1c; --caution: #7a4b00; --note: #275a6b; }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 1rem/1.45 system-ui, sans-serif; }
main { max-width: 60rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.6rem; line-height: 1.2; margin: .5rem 0; }
h2 { font-size: 1.25rem; margin: 2.2rem 0 .6rem; padding-bottom: .2rem; border-bottom: 2px solid var(--ink); }
h3 { font-size: 1.05rem; margin: 1.4rem 0 .3rem; }
p { margin: .4rem 0; }
nav { display: flex; flex-wrap: wrap; gap: .3rem 1rem; margin: 1rem 0; }
a { color: var(--note); }
.soft { color: var(--soft); }
.short li { margin: .2rem 0; }
table { border-collapse: collapse; width: 100%; margin: .4rem 0 1rem; font-size: .95rem; }
th { text-align: left; font-weight: 600; color: var(--soft); }
th, td { padding: .3rem .6rem .3rem 0; border-bottom: 1px solid var(--line); vertical-align: top; }
.wide { overflow-x: auto; }
article { border-left: .35rem solid var(--note); padding: .1rem 0 .1rem .8rem; margin: .9rem 0; break-inside: avoid; }
article.danger { border-color: var(--danger); } article.caution { border-color: var(--caution); }
.level { font-weight: 700; color: var(--note); }
.danger > p > .level { color: var(--danger); } .caution > p > .level { color: var(--caution); }
del { color: var(--soft); }
details { font-size: .9rem; } summary { cursor: pointer; color: var(--soft); padding: .2rem 0; }
pre { overflow-x: auto; background: var(--shade); padding: .5rem; margin: .2rem 0; font-size: .8rem; line-height: 1.5; }
@media (max-width: 40rem) {
  thead { display: none; }
  tr { display: block; border-bottom: 1px solid var(--line); padding: .4rem 0; }
  td { display: grid; grid-template-columns: 6.5rem 1fr; gap: .6rem; border: 0; padding: .1rem 0; }
  td::before { content: attr(data-label); color: var(--soft); }
  td.empty { display: none; } td > div { min-width: 0; overflow-wrap: anywhere; }
}
@media print {
  body { background: none; font-size: 9.5pt; } main { max-width: none; padding: 0; } nav { display: none; }
  details::details-content { content-visibility: visible; height: auto; } pre { white-space: pre-wrap; }
  h2, h3 { break-after: avoid; } tr { break-inside: avoid; }
}
"""
