"""How the page looks: the palette of the charts, by day, by night and on paper."""

from __future__ import annotations

from forecaster.charts.style import CHALK, CLAY, INK, MOSS, PAPER, SAND, UMBER

LIGHT = {
    "paper": PAPER, "ink": INK, "umber": UMBER, "clay": CLAY, "sand": SAND, "chalk": CHALK,
    "moss": MOSS, "soft": "#5d5145",
}  # fmt: skip
DARK = {
    "paper": "#1d1914", "ink": "#efe7d9", "umber": "#f0d9b8", "clay": "#8d6845",
    "sand": "#57432f", "chalk": "#332c23", "moss": "#a5c9ab", "soft": "#c0b3a1",
}  # fmt: skip
TEXT_ON = (
    ("ink", "paper"), ("soft", "paper"), ("moss", "paper"), ("umber", "paper"), ("ink", "chalk"),
    ("moss", "chalk"), ("umber", "chalk"), ("soft", "chalk"),
)  # fmt: skip
"""Pairs of text and ground that the page uses; WCAG 2 asks a contrast of 4.5."""
DRAWN_ON = (("umber", "paper"), ("moss", "paper"), ("umber", "sand"), ("soft", "paper"))
"""Pairs of line and ground that carry meaning; WCAG 2 asks a contrast of 3."""


def variables(palette: dict[str, str]) -> str:
    """Return a palette as CSS custom properties."""
    return "".join(f"--{name}:{colour};" for name, colour in palette.items())


def style_sheet() -> str:
    """Return the whole style sheet of the page."""
    return "\n".join(
        (
            f":root{{color-scheme:light dark;{variables(LIGHT)}}}",
            f"@media screen and (prefers-color-scheme:dark){{:root{{{variables(DARK)}}}}}",
            SCREEN.strip(),
            PRINT.strip(),
        )
    )


SCREEN = """
*,*::before,*::after{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);
  font:1rem/1.5 system-ui,-apple-system,"Segoe UI","Noto Sans","DejaVu Sans",sans-serif}
header,main,footer{max-width:68rem;margin:0 auto;padding:0 1rem}
header{padding-top:1.25rem}
.skip{position:absolute;left:-100rem}
.skip:focus{left:1rem;top:.5rem;background:var(--paper);padding:.5rem .75rem;z-index:1}
a{color:var(--moss);text-underline-offset:.2em}
:focus-visible{outline:3px solid var(--moss);outline-offset:2px}
h1{font-size:1.35rem;line-height:1.25;margin:0;overflow-wrap:anywhere}
.where{color:var(--soft);margin:.15rem 0 0;overflow-wrap:anywhere}
.lead{font-size:1.3rem;line-height:1.35;font-weight:600;margin:.75rem 0 .5rem;
  border-left:.4rem solid var(--umber);padding-left:.75rem}
nav ul{display:flex;flex-wrap:wrap;gap:0 1.1rem;list-style:none;margin:.5rem 0 0;padding:0}
nav a{display:inline-block;padding:.3rem 0}
h2{font-size:1.15rem;line-height:1.3;margin:2rem 0 .5rem;padding-bottom:.2rem;
  border-bottom:2px solid var(--sand)}
h3{font-size:1rem;margin:1rem 0 .25rem}
p,ul,ol{margin:.4rem 0}
ul,ol{padding-left:1.25rem}
li{margin:.3rem 0;overflow-wrap:anywhere}
figure{margin:.5rem 0}
figcaption,.note{color:var(--soft);font-size:.9rem}
.basis{color:var(--soft)}
.drawn{display:block;width:100%;height:auto;max-width:36rem;margin:0 auto}
.drawn *{stroke-linejoin:round;stroke-linecap:butt}
.wide{overflow-x:auto;margin:.75rem 0}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
caption{text-align:left;font-weight:600;padding:.25rem 0}
th,td{text-align:left;vertical-align:top;padding:.3rem .6rem .3rem 0;
  border-bottom:1px solid var(--chalk)}
thead th{border-bottom:2px solid var(--sand)}
tbody th{font-weight:600}
.short td,.dates td{white-space:nowrap}
.weeks{display:grid;grid-template-columns:repeat(auto-fill,minmax(5.3rem,1fr));gap:.3rem;
  margin:.5rem 0}
.weeks div{background:var(--chalk);padding:.25rem .5rem}
.weeks dt{color:var(--soft);font-size:.85em}
.weeks dd{margin:0;font-weight:600;font-variant-numeric:tabular-nums}
details{margin:.5rem 0}
summary{cursor:pointer;color:var(--moss);padding:.3rem 0}
.boxes{list-style:none;padding-left:0}
.boxes>li{position:relative;padding-left:1.9rem;margin:.7rem 0}
.boxes>li::before{content:"";position:absolute;left:0;top:.25rem;width:1.1rem;height:1.1rem;
  border:2px solid var(--umber);border-radius:2px}
.boxes .note,.dates .note{display:block;font-weight:400}
.care{display:block;border-left:.25rem solid var(--clay);padding-left:.6rem}
.crops{list-style:none;padding:0;margin:0}
.crops li{margin:.55rem 0 .2rem}
.crops .months{margin:0}
.crops b{font-weight:600}
.bar{display:block;width:100%;height:18px;overflow:hidden}
.months .bar{height:18px}
.bar text{font-size:12px;fill:var(--soft)}
.paper{display:none}
@media print,(min-width:24rem){.keys{white-space:nowrap}}
.key{display:inline-block;vertical-align:-.15em}
.two{display:grid;grid-template-columns:minmax(0,1fr);column-gap:2.5rem}
@media screen and (max-width:40rem){
  #soil figure .drawn{width:calc(100% + 2rem);margin:0 -1rem}
  .dates{font-size:.85rem}
  .dates td{white-space:normal}
  .dates th,.dates td{padding-right:.35rem}
  .dates tr>:last-child{padding-right:0}
  .weeks{grid-template-columns:repeat(auto-fill,minmax(4.7rem,1fr))}
}
@media screen and (min-width:60rem){
  .two{grid-template-columns:minmax(0,1fr) minmax(0,1fr)}
  .crops li{display:grid;grid-template-columns:22rem minmax(0,1fr);gap:0 1.5rem;align-items:center}
  .crops .bar{grid-column:2}
  h1{font-size:1.6rem}
  .lead{font-size:1.5rem}
}
footer{color:var(--soft);font-size:.9rem;padding:1.5rem 1rem 2rem}
"""

PRINT = """
@page{margin:9mm 11mm}
@media print{
  :root{--paper:#ffffff}
  body{font-size:7.7pt;line-height:1.22}
  header,main{max-width:none;padding:0}
  nav,footer,.skip,details,.screen{display:none}
  .paper{display:block}
  h1{font-size:13pt}
  .lead{font-size:11.5pt;line-height:1.25;margin:1.5mm 0;border-left-width:1.2mm}
  h2{font-size:9.4pt;margin:2mm 0 .7mm;padding-bottom:.3mm;break-after:avoid}
  h3{font-size:8.2pt;margin:1mm 0 .3mm;break-after:avoid}
  p,ul,ol,figure{margin:.5mm 0}
  li{margin:.3mm 0}
  ul{padding-left:4mm}
  figcaption,.note{font-size:7.2pt}
  #soil figure,.sheet figure,tr,#known .wide,#before .wide,.boxes>li,.crops li{break-inside:avoid}
  caption{padding:.3mm 0;break-after:avoid}
  thead{break-after:avoid}
  th,td{padding:.25mm 2mm .25mm 0}
  .wide{overflow:visible;margin:.8mm 0}
  .two,.pair{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr);column-gap:6mm}
  main{display:flex;flex-direction:column}
  main>*{min-width:0}
  .first{display:grid;grid-template-columns:71mm minmax(0,1fr);column-gap:6mm;
    grid-template-rows:auto auto 1fr auto}
  #soil,#soil .two{display:contents}
  #soil h2,#crops{grid-column:1/-1}
  #soil figure{grid-column:1;grid-row:2/span 2}
  #soil .words{grid-column:2;grid-row:2}
  #week{grid-column:2;grid-row:3}
  .drawn{max-width:71mm;margin:0}
  .sheet .drawn{max-width:165mm;margin:0 auto}
  .weeks{margin:.8mm 0;gap:.8mm;grid-template-columns:repeat(auto-fill,minmax(17mm,1fr))}
  .weeks div{padding:.4mm 1mm}
  .boxes{padding-left:0}
  .boxes>li{padding-left:4.5mm;margin:.7mm 0}
  .boxes>li::before{width:2.8mm;height:2.8mm;top:.3mm;border-width:1pt}
  .dates .note{display:inline;margin-left:1.5mm}
  .crops{padding:0}
  .crops li{margin:.4mm 0 0;display:grid;grid-template-columns:84mm minmax(0,1fr);column-gap:4mm;
    align-items:center;font-size:7.2pt;line-height:1.2}
  .crops .bar{grid-column:2}
  .bar text{font-size:9px}
  #later .two,#known,#buy .boxes,.pair p{font-size:7.2pt;line-height:1.2}
  #buy .boxes{columns:2;column-gap:6mm}
  #known table,#before table{font-size:7pt}
  #later table{font-size:7.3pt;line-height:1.15}
  #known ul{line-height:1.15}
  #known tbody th{white-space:nowrap}
  #known th,#known td,#before th,#before td{padding-right:1mm}
  .sheet{order:9;break-before:page}
  section{break-inside:auto}
  #before,#cautions{break-inside:avoid}
  .small{font-size:6.8pt;line-height:1.18}
  .small ul{padding:0;margin:0}
  .small li{display:inline;margin:0}
  .small li::after{content:" \\00b7  "}
  .small li:last-child::after{content:""}
}
"""
