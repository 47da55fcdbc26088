//! Style: how the page looks. Ink on paper, one column, tables ruled by thin lines; nothing rests on colour.

/// Rules of the page, of narrow windows and of print.
pub(crate) const STYLE: &str = "\
html { color: #141414; background: #fff; font: 16px/1.5 sans-serif; }
body { margin: 0; }
main { max-width: 60rem; margin: 0 auto; padding: 1.5rem 1.25rem 4rem; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0.5rem 0 1rem; }
h2 { font-size: 1.25rem; margin: 3rem 0 0.75rem; padding-top: 0.6rem; border-top: 3px solid #141414; }
h3 { font-size: 1.02rem; margin: 2rem 0 0.5rem; }
p, ul, dl, summary, caption { max-width: 44rem; }
li { margin: 0.4rem 0; }
nav ol { columns: 2; padding-left: 1.4rem; }
nav li { margin: 0.1rem 0; break-inside: avoid; }
a { color: inherit; }
dt { font-weight: bold; margin-top: 0.7rem; }
dd { margin: 0 0 0 1.5rem; }
.wide { overflow-x: auto; margin: 1rem 0 1.5rem; }
figure { margin: 1.25rem 0 0.5rem; }
figure > svg { display: block; max-width: 100%; min-width: 35rem; height: auto; }
table { border-collapse: collapse; font-size: 0.86rem; line-height: 1.35; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: bold; padding: 0.3rem 0; }
summary { font-weight: bold; font-size: 0.86rem; padding: 0.3rem 0; }
details .wide { margin-top: 0; }
th, td { text-align: right; vertical-align: top; padding: 0.2rem 0.35rem 0.2rem 0.8rem; border-bottom: 1px solid #c6c6c6; }
td:not(.w) { white-space: nowrap; }
thead td { border: none; }
thead th { vertical-align: bottom; border-bottom: 1.5px solid #141414; }
thead th[scope=colgroup] { text-align: center; border-bottom: 1px solid #707070; border-left: 1px solid #fff; }
tbody th, th.w, td.w { text-align: left; }
tbody th { font-weight: normal; padding-left: 0; }
th:first-child { padding-left: 0; }
@media (max-width: 40rem) {
  main { padding: 0.75rem 0.75rem 3rem; }
  nav ol { columns: 1; }
}
@media print {
  @page { margin: 14mm; }
  html { font-size: 10.5pt; }
  main { max-width: none; padding: 0; }
  .wide { overflow: visible; }
  table { font-size: 7.6pt; }
  th, td { padding: 0.12rem 0.2rem 0.12rem 0.45rem; }
  tr, figure, dt, li { break-inside: avoid; }
  h2, h3, caption, summary, dt { break-after: avoid; }
  figure > svg { min-width: 0; width: 100%; }
}
";
