"""How a batch page and a label look, on paper and on any screen.

Responsible for the style sheet alone.
"""

# The colours of lines are told apart with every kind of colour vision: Okabe & Ito, "Color
# Universal Design" (2008), hex values from memory, not checked; lighter ones for dark screens.
STYLE = """
:root{color-scheme:light dark;--paper:#fdfcfa;--ink:#1d1a17;--quiet:#5c544c;--rule:#d8d1c7;
--shade:#f2eee7;--bath:#0072b2;--bowl:#c04f00;--fill:#c04f00;--good:#cdeadd;--plain:#e6dfd3;
--card:#fff}
@media(prefers-color-scheme:dark){:root{--paper:#191613;--ink:#f2ece4;--quiet:#b9aea2;--rule:#4a423a;
--shade:#231f1b;--bath:#6bbdf0;--bowl:#ff9a55;--fill:#ff9a55;--good:#1e4d3b;--plain:#3a332c;
--card:#221e1a}}
*{box-sizing:border-box}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.55 Georgia,"DejaVu Serif",serif}
main{max-width:60rem;margin:0 auto;padding:1.25rem 1rem 3rem}
h1{font-size:1.7rem;line-height:1.2;margin:.2rem 0 .3rem;text-wrap:balance}
h2{font-size:1.15rem;margin:2.2rem 0 .6rem;padding-top:.5rem;border-top:2px solid var(--rule)}
p,ul,ol,dl{margin:.5rem 0;max-width:42rem}
ul,ol{padding-left:1.3rem}li{margin:.2rem 0}
.quiet{color:var(--quiet);font-size:.92rem}
.lead{font-size:1.2rem;line-height:1.4;margin:.8rem 0}
.warn{border-left:.3rem solid var(--bowl);padding:.5rem .8rem;background:var(--card)}
figure{margin:1rem 0}figcaption{color:var(--quiet);font-size:.92rem;max-width:42rem}
.curve{display:block;width:100%;height:auto;font-family:system-ui,"DejaVu Sans",sans-serif}
.curve.narrow{display:none}
.curve text{fill:var(--ink)}.curve .grid{stroke:var(--rule);stroke-width:.8}
.curve .shade{fill:var(--shade)}.curve .name{font-weight:600}
.curve path{fill:none;stroke-linejoin:round}
.curve .bath,.key .bath{stroke:var(--bath);stroke-width:1.6}
.curve .bowl,.key .bowl{stroke:var(--bowl);stroke-width:3}
.curve .wanted,.key .wanted{stroke:var(--ink);stroke-width:1.3;stroke-dasharray:6 4}
.curve .fill{fill:var(--fill);opacity:.55;stroke:none}
.curve .thread{stroke:var(--quiet);stroke-width:.8;stroke-dasharray:2 3}
.curve .ring{fill:var(--card);stroke:var(--ink);stroke-width:1.2}
.curve .good{fill:var(--good)}.curve .plain{fill:var(--plain)}
.key{max-width:none}
.key{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;list-style:none;padding:0;margin:.4rem 0;
font-size:.95rem}
.key svg{width:2.4rem;height:.8rem;vertical-align:middle;margin-right:.4rem}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;font-size:.97rem}
th,td{text-align:left;vertical-align:top;padding:.35rem .6rem .35rem 0;
border-bottom:1px solid var(--rule)}
th{font-weight:600}td.num,th.num{text-align:right;padding-right:1rem;white-space:nowrap}
dl{display:grid;grid-template-columns:minmax(7rem,max-content) 1fr;gap:.25rem 1rem}
dl.steps{row-gap:.7rem}dt{font-weight:600}dd{margin:0;overflow-wrap:anywhere}
.asked{padding-left:0;list-style:none;counter-reset:asked}
.asked li{counter-increment:asked;position:relative;padding-left:2.3rem;margin:.7rem 0}
.asked li::before{content:counter(asked);position:absolute;left:0;top:.1rem;width:1.5rem;
height:1.5rem;border:1.2px solid var(--ink);border-radius:50%;text-align:center;font-size:.85rem;
line-height:1.4rem}
.boxes{display:flex;flex-wrap:wrap;gap:.3rem 1.3rem;list-style:none;padding:0;margin:.2rem 0 .8rem}
.boxes span{display:inline-block;width:1.1em;height:1.1em;border:1.5px solid var(--ink);
border-radius:.2em;vertical-align:-.18em;margin-right:.45em;text-align:center;line-height:1;
font-weight:700}
.line{border-bottom:1px solid var(--quiet);height:2.1rem;max-width:42rem}
.label{border:2px solid var(--ink);border-radius:.4rem;padding:.7rem .9rem;max-width:26rem;
background:var(--card);break-inside:avoid}
.label h3{margin:0 0 .3rem;font-size:1.15rem}
code{font-family:ui-monospace,"DejaVu Sans Mono",monospace;font-size:.88em;overflow-wrap:anywhere}
@media(max-width:40rem){.curve.wide{display:none}.curve.narrow{display:block}
h1{font-size:1.4rem}.lead{font-size:1.1rem}
dl.steps{display:block}dl.steps dd{margin:0 0 .8rem}}
@page{size:auto;margin:14mm}
@media print{:root{color-scheme:light;--paper:#fff;--ink:#000;--quiet:#444;--rule:#bbb;
--shade:#f1f1f1;--bath:#0072b2;--bowl:#c04f00;--fill:#c04f00;--good:#d9efe5;--plain:#e8e8e8;--card:#fff}
body{font-size:10pt}main{max-width:none;padding:0}.curve.wide{display:block;max-height:10.5cm}
h2{margin-top:1.2rem}.warn{border:1px solid var(--rule)}
.curve.narrow{display:none}h2{break-after:avoid}figure,table,.keep{break-inside:avoid}}
"""
