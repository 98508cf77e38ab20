/**
 * The page's one style sheet, a string because the page must be one file. Colours are custom properties: light, dark when
 * the reader's system says so, and light again on paper. Pairs of text and ground have a contrast of 4.5 or more (WCAG 2.1, 1.4.3).
 */
export const STYLE = `
:root {
  --ground: #f6f4ee; --sheet: #fffefb; --ink: #1c2830; --soft: #55636c; --line: #d5d2c6; --shade: #ece9df;
  --good: #1d6638; --bad: #a0241c; --doubt: #7d5200;
  --setpoint: #e2b657; --feedback: #0c5f73; --error: #7a3580; --limit: #a0241c;
  color-scheme: light;
}
@media screen and (prefers-color-scheme: dark) {
  :root {
    --ground: #11181c; --sheet: #182126; --ink: #e6e4dc; --soft: #a3adb2; --line: #35424a; --shade: #222d33;
    --good: #7fcf9a; --bad: #ff978c; --doubt: #f0bf62;
    --setpoint: #80631f; --feedback: #6fd0e3; --error: #d9a0e0; --limit: #ff978c;
    color-scheme: dark;
  }
}
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; }
body {
  margin: 0; background: var(--ground); color: var(--ink);
  font: 1rem/1.5 system-ui, "Segoe UI", "Liberation Sans", "DejaVu Sans", sans-serif;
}
main { max-width: 74rem; margin: 0 auto; padding: 1rem clamp(.75rem, 3vw, 2rem) 3rem; }
h1, h2, h3 { line-height: 1.25; margin: 0; text-wrap: balance; }
h1 { font-size: clamp(1.35rem, 1.1rem + 1.2vw, 1.9rem); font-weight: 600; }
h2 { font-size: 1.2rem; margin-bottom: .6rem; }
h3 { font-size: 1rem; margin: 1.1rem 0 .35rem; }
p { margin: .35rem 0; max-width: 70ch; overflow-wrap: anywhere; }
a { color: inherit; text-underline-offset: .2em; }
section, header { background: var(--sheet); border: 1px solid var(--line); border-radius: .6rem; padding: 1.1rem clamp(.8rem, 2.5vw, 1.6rem); margin-top: 1rem; }
header { border-left: .55rem solid var(--tone); }
.pass { --tone: var(--good); } .fail { --tone: var(--bad); } .incomplete { --tone: var(--doubt); }
.outcome { color: var(--tone); font-weight: 800; letter-spacing: .06em; font-size: clamp(2rem, 1.4rem + 3vw, 3.1rem); line-height: 1.1; margin: .2rem 0; }
.lead { font-size: 1.12rem; }
.facts { display: flex; flex-wrap: wrap; gap: .2rem 1.8rem; margin: .8rem 0 0; }
.facts div { display: flex; gap: .5rem; align-items: baseline; min-width: 0; }
dt { color: var(--soft); } dd { margin: 0; font-weight: 600; overflow-wrap: anywhere; }
nav { margin-top: .9rem; display: flex; flex-wrap: wrap; gap: .25rem 1.1rem; }
.notice { border-left: .3rem solid var(--doubt); padding-left: .8rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
caption { text-align: left; color: var(--soft); padding-bottom: .3rem; }
th, td { text-align: left; vertical-align: top; padding: .38rem .9rem .38rem 0; border-top: 1px solid var(--line); }
thead th { border-top: 0; color: var(--soft); font-weight: 600; font-size: .88rem; vertical-align: bottom; }
.numbers { width: auto; } .numbers caption { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
.numbers th, .numbers td { padding-right: 1.1rem; font-size: .92rem; } .numbers td { text-align: right; white-space: nowrap; } .numbers thead th:not(:first-child) { text-align: right; }
.numbers td small { display: block; font-size: .8rem; } .numbers + .facts, .facts + .scroll { margin-top: .6rem; } .scroll + .scroll { margin-top: 1.1rem; }
small, .soft { color: var(--soft); font-size: .86rem; }
.good { color: var(--good); font-weight: 700; } .failure, .bad { color: var(--bad); font-weight: 700; } .doubt, .warning { color: var(--doubt); font-weight: 700; } .expected { font-weight: 700; }
.watches { display: flex; flex-wrap: wrap; gap: .4rem 3rem; } .watches > div { min-width: 0; max-width: 100%; }
.nowrap { white-space: nowrap; }
ul { margin: .3rem 0; padding-left: 1.2rem; } li { margin: .2rem 0; max-width: 72ch; }
.key { display: flex; flex-wrap: wrap; gap: .2rem 1.4rem; list-style: none; padding: 0; font-size: .9rem; }
.key li { display: flex; align-items: center; gap: .45rem; } .key svg { width: 2.2rem; height: .9rem; flex: none; }
.joints { display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 25rem), 1fr)); gap: 1.2rem 1.8rem; margin-top: .6rem; }
figure { margin: 0; min-width: 0; max-width: 38rem; break-inside: avoid; }
figcaption { font-weight: 600; }
figcaption span { display: block; font-weight: 400; color: var(--soft); font-size: .88rem; }
figure svg { display: block; width: 100%; height: auto; }
svg text { fill: var(--soft); font: 11.5px system-ui, "Liberation Sans", "DejaVu Sans", sans-serif; }
svg .mark { fill: var(--bad); font-weight: 700; } svg .cause { fill: var(--doubt); font-weight: 700; }
svg .frame { fill: none; stroke: var(--line); } svg .grid { stroke: var(--line); stroke-width: .6; }
svg .zero { stroke: var(--soft); stroke-width: .7; } svg .idle { fill: var(--shade); } svg .bound { stroke: var(--line); }
svg .setpoint { fill: var(--setpoint); stroke: var(--setpoint); stroke-width: 4; stroke-linejoin: round; stroke-linecap: round; }
svg .feedback { fill: var(--feedback); stroke: var(--feedback); stroke-width: 1.2; stroke-linejoin: round; stroke-linecap: round; }
svg .error { fill: var(--error); stroke: var(--error); stroke-width: 1; stroke-linejoin: round; }
svg .limit { stroke: var(--limit); stroke-width: 1; stroke-dasharray: 7 4; }
svg .stop { stroke: var(--bad); stroke-width: 2; } svg .notice { stroke: var(--doubt); stroke-width: 1; stroke-dasharray: 2 2; }
svg .finding { stroke: var(--bad); stroke-width: 1; stroke-dasharray: 2 2; }
svg .fault { stroke: var(--doubt); stroke-width: 2; stroke-dasharray: .1 4; stroke-linecap: round; }
svg .line { fill: none; stroke: var(--feedback); stroke-width: 1.8; stroke-linejoin: round; }
@media screen and (max-width: 46rem) {
  .stack thead { position: absolute; width: 1px; height: 1px; overflow: hidden; clip-path: inset(50%); }
  .stack, .stack caption, .stack tbody, .stack tr, .stack th, .stack td { display: block; }
  .stack tr { border-top: 1px solid var(--line); padding: .6rem 0; }
  .stack th, .stack td { border: 0; padding: .08rem 0; }
  .stack td[data-label]::before { content: attr(data-label) ": "; color: var(--soft); font-weight: 400; }
}
@media print {
  :root { --ground: #fff; --sheet: #fff; }
  @page { margin: 14mm; }
  html { font-size: 9.5pt; } main { max-width: none; padding: 0; }
  section, header { border-color: #bbb; border-radius: 0; padding: .7rem 0; border-width: 1px 0 0; margin-top: .7rem; }
  header { border: 0; border-left: .4rem solid var(--tone); padding-left: .8rem; }
  details::details-content { content-visibility: visible; block-size: auto; } summary { list-style: none; }
  nav { display: none; } h2, h3, caption { break-after: avoid; } tr, li { break-inside: avoid; } tbody tr:first-child { break-before: avoid; } .scroll { overflow: visible; }
  .joints { grid-template-columns: 1fr 1fr; gap: .8rem 1rem; }
  svg, header { print-color-adjust: exact; -webkit-print-color-adjust: exact; }
}
`
