// How the page of `crank` looks: on a phone, a screen by day and by night, and on A4.
#pragma once

namespace evenstroke::render {

// Every word of the verdicts has a pattern of its own beside its colour (full, striped, light, dashed), so
// that nothing is lost in black and white. No character here needs escaping in XML: no '<', no '&'.
inline constexpr const char* page_style = R"(
:root { color-scheme: light dark; --paper: #fcfbf7; --ink: #23292b; --soft: #566063; --rule: #c4c0b3;
  --even: #d5dfd8; --low: #c39a5f; --weak: #7c3f31; --band: #efe8d6; --trace: #2d5a6a; --mean: #9db9bd; --model: #6e3311; }
@media (prefers-color-scheme: dark) {
  :root { --paper: #1a1e20; --ink: #e8e5dc; --soft: #abb2b3; --rule: #4b5254;
    --even: #3c4d49; --low: #98733f; --weak: #d08a76; --band: #2b2d28; --trace: #93c4d2; --mean: #4f757d; --model: #f0bd92; } }
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 50rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.45 system-ui, sans-serif; overflow-wrap: anywhere; }
h1 { margin: 0; padding: .7rem 1rem; border: 1px solid var(--ink); border-left-width: .6rem;
  font-size: 1.25rem; line-height: 1.3; }
h1 b { display: block; letter-spacing: .08em; font-size: .9rem; }
h1.low { border-left-style: double; }
h1.even { border-left-width: 1px; }
h1.inconclusive { border-style: dashed; border-left-width: .6rem; }
h2 { margin: 1.6rem 0 .4rem; padding-bottom: .15rem; border-bottom: 1px solid var(--rule); font-size: 1.05rem; }
p { margin: .4rem 0; }
ul, ol { margin: .4rem 0; padding-left: 1.4rem; }
li { margin: .25rem 0; }
.cautions li::marker { content: "!  "; font-weight: bold; }
.soft, figcaption, footer { color: var(--soft); font-size: .9rem; }
footer { margin-top: 2rem; border-top: 1px solid var(--rule); padding-top: .4rem; }
.figures { columns: 15rem; }
.figures li { margin: 0; }
.wide { margin-top: 1rem; overflow-x: auto; }
table { width: 100%; border-collapse: collapse; overflow-wrap: normal; }
caption { text-align: left; color: var(--soft); font-size: .9rem; }
th, td { padding: .3rem .5rem; border-bottom: 1px solid var(--rule); text-align: left; vertical-align: middle; }
th { font-weight: 600; }
tbody th { white-space: nowrap; }
thead th { vertical-align: bottom; font-size: .9rem; }
td.number, th.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.bars { width: 38%; min-width: 8.5rem; padding-left: 0; padding-right: 0; }
tr.weak td.word, tr.low td.word { font-weight: bold; }
figure { margin: .6rem 0; }
svg { display: block; overflow: visible; }
svg.plot { width: 100%; max-width: 38rem; height: auto; }
svg text { fill: var(--ink); font-size: 13px; }
svg.bar text { font-size: 12px; }
svg .middle { text-anchor: middle; }
svg .end { text-anchor: end; }
svg line, svg polyline { fill: none; stroke: var(--ink); stroke-width: 1; }
svg .frame { fill: none; stroke: var(--soft); stroke-width: 1; }
svg .axis { stroke: var(--soft); }
svg .limit { stroke: var(--ink); stroke-dasharray: 3 2; }
svg .tdc { stroke: var(--rule); }
svg .band { fill: var(--band); }
svg .trace { stroke: var(--trace); stroke-width: 1.2; stroke-linejoin: round; }
svg .mean { stroke: var(--mean); stroke-width: 4.5; stroke-linejoin: round; }
svg .model { stroke: var(--model); stroke-width: 1.5; stroke-dasharray: 6 4; }
svg rect.even { fill: var(--even); stroke: var(--ink); }
svg rect.low { fill: var(--paper); stroke: var(--ink); }
svg rect.weak { fill: var(--weak); stroke: var(--ink); }
svg rect.unsure { fill: none; stroke: var(--ink); stroke-dasharray: 2 3; }
svg .stripes { stroke: var(--low); stroke-width: 12; stroke-dasharray: 3 3; }
svg .halo { stroke: var(--paper); stroke-width: 4; stroke-linecap: square; }
svg .whisker { stroke-width: 1.8; }
td.peak { white-space: nowrap; }
@media screen and (max-width: 34rem) {
  body { padding: .6rem; }
  th, td { padding: .3rem .25rem; font-size: .85rem; }
  .bars { min-width: 6.5rem; }
  tbody th { white-space: normal; }
}
@media print {
  @page { size: A4; margin: 15mm; }
  :root { color-scheme: light; --paper: #fff; --ink: #000; --soft: #333; --rule: #999;
    --even: #ddd; --low: #999; --weak: #444; --band: #eee; --trace: #000; --mean: #aaa; --model: #000; }
  body { max-width: none; padding: 0; font-size: 10pt; }
  .wide { overflow: visible; }
  h2 { break-after: avoid; }
  figure, tr, li { break-inside: avoid; }
  svg.plot { max-width: 130mm; }
}
)";

}  // namespace evenstroke::render
