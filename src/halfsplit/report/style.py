"""The look of the sheet: paper and ink by day, the same in the dark, plain black in print."""

from __future__ import annotations

import base64
import hashlib

STYLE = """
:root{color-scheme:light dark;--paper:#fdfcf8;--ink:#1b1b1a;--soft:#5d5b55;--rule:#c9c5ba;--grid:#e6e2d8;
--band:#d9d5c9;--served:#f1ead0;--edge:#a08f4c;--line:#14385c;--bad:#8c1d18;--maybe:#7a5200;--good:#1f5a34;
--z2:#f3efe4;--z3:#e6e0d0}
@media (prefers-color-scheme:dark){:root{--paper:#161715;--ink:#eceae3;--soft:#aaa69b;--rule:#4a4942;--grid:#2a2b28;
--band:#3b3c37;--served:#2f2c1c;--edge:#8f8350;--line:#a9cdf2;--bad:#ff9d92;--maybe:#e9bd62;--good:#8fd3a3;
--z2:#1f201d;--z3:#2b2c27}}
*{box-sizing:border-box}
html{background:var(--paper);color:var(--ink);font:16px/1.5 Georgia,"Times New Roman",serif;
-webkit-text-size-adjust:100%}
body{max-width:1080px;margin:0 auto;padding:40px 28px 64px;overflow-wrap:anywhere}
h1,h2,h3,th,dt,.label,.word,.meta,text,summary,footer{font-family:"Helvetica Neue",Arial,sans-serif}
h1{font-size:26px;line-height:1.2;margin:2px 0 14px;font-weight:600}
h2{font-size:15px;letter-spacing:.02em;margin:44px 0 12px;padding-top:8px;border-top:2px solid var(--ink);
font-weight:600}
h3{font-size:15px;margin:26px 0 4px;font-weight:600}
p{margin:0 0 10px}
a{color:inherit}
.label{font-size:12px;color:var(--soft);margin:0}
.belief{font-size:20px;line-height:1.4;margin:16px 0 6px}
.meta,.note{color:var(--soft);font-size:14px}
dl{display:grid;grid-template-columns:max-content 1fr;gap:4px 18px;margin:0 0 12px}
dt{font-size:12px;color:var(--soft);padding-top:3px}
dd{margin:0}
code{font:13px/1.5 "DejaVu Sans Mono",Consolas,monospace;word-break:break-all}
table{border-collapse:collapse;width:100%;margin:0 0 14px}
th{font-size:12px;font-weight:400;color:var(--soft);text-align:left;border-bottom:1px solid var(--ink);
padding:4px 14px 4px 0}
td{border-bottom:1px solid var(--rule);padding:7px 14px 7px 0;vertical-align:top}
td:first-child,.bands td:nth-child(2),.checks td:nth-child(n+3){white-space:nowrap}
ul{margin:4px 0 10px;padding-left:20px}
li{margin:2px 0}
.word{font-size:13px;white-space:nowrap;padding:1px 7px;border:1px solid currentColor;border-radius:2px}
.within{color:var(--good)}.doubtful{color:var(--maybe);border-style:dashed}
.outside{color:var(--paper);background:var(--bad);border-color:var(--bad);font-weight:700}
.untold{color:var(--soft);border-style:dotted}
ol.loud{list-style:none;padding:0;margin:0}
ol.loud li{border-bottom:1px solid var(--rule);padding:7px 0}
.plots{display:grid;grid-template-columns:1fr 1fr;gap:8px 26px;margin:10px 0 4px}
figure{margin:0}
figure>svg{display:block;width:100%;height:auto;overflow:visible}svg.window{overflow:hidden}
section.reading{margin:0 0 34px}
section.reading>h3{display:flex;gap:12px;flex-wrap:wrap;align-items:baseline}
.withdrawn{text-decoration:line-through;color:var(--soft)}
.probability{font-family:"Helvetica Neue",Arial,sans-serif;font-size:19px;font-weight:600;white-space:nowrap}
.group{display:grid;grid-template-columns:74px 1fr;gap:0 14px;border-bottom:1px solid var(--rule);padding:12px 0}
.group h3{margin:0 0 4px}
.group .bar{display:block;width:66px;height:8px;margin-top:4px}
.cause{margin:8px 0 0}
.cause p{margin:0}
.speaks{font-size:14.5px}
.caution{border-left:4px double var(--ink);padding:2px 0 2px 14px;margin:10px 0}
ul.caution{padding-left:30px}
.kept td:first-child{white-space:normal;min-width:84px}.kept td:nth-child(3){min-width:130px}
footer{margin-top:44px;border-top:1px solid var(--rule);padding-top:10px;font-size:13px;color:var(--soft)}
text{font-size:12px;fill:var(--ink)}
text.figure,text.axis{fill:var(--soft)}text.small{font-size:10.5px;fill:var(--soft)}
text.loud{font-weight:700;paint-order:stroke;stroke:var(--paper);stroke-width:4px}
.grid{stroke:var(--grid);stroke-width:.8}.frame{fill:none;stroke:var(--ink);stroke-width:1}
.served{fill:var(--served)}.servededge{stroke:var(--edge);stroke-width:1;stroke-dasharray:2 2}
.harmonic{fill:var(--edge)}
.sound{fill:var(--band);stroke:var(--soft);stroke-width:.5;fill-opacity:.75}
.expected{fill:none;stroke:var(--soft);stroke-width:1.1;stroke-dasharray:6 3}
.reading{fill:none}polyline.reading,line.reading{stroke:var(--line);stroke-width:2.1;stroke-linejoin:round}
.mark{fill:var(--line)}.least{fill:none;stroke:var(--line);stroke-width:1.2}.edge{fill:var(--ink)}
.ring{fill:none;stroke:var(--bad);stroke-width:1.8}
.zero{stroke:var(--ink);stroke-width:1}.two{stroke:var(--soft);stroke-width:.8;stroke-dasharray:4 3}
.three{stroke:var(--soft);stroke-width:1.1}
.zone2{fill:var(--z2);fill-opacity:.7}.zone3{fill:var(--z3);fill-opacity:.75}
.barback{fill:none;stroke:var(--soft);stroke-width:1}.barfill{fill:var(--ink)}
@media screen and (max-width:720px){
body{padding:20px 16px 40px}
.plots{grid-template-columns:1fr;gap:18px}
dl{grid-template-columns:1fr;gap:0}dd{margin-bottom:8px}
thead{display:none}
table,tbody,tr,td{display:block}
tr{border-bottom:1px solid var(--rule);padding:8px 0}
td,td:first-child,.bands td:nth-child(2),.checks td:nth-child(n+3){border:0;padding:1px 0;white-space:normal}
td:not(:first-child):not(:empty)::before{content:attr(data-head) ": ";color:var(--soft);
font:12px "Helvetica Neue",Arial,sans-serif}
.checks td:nth-child(2)::before,.bands td:nth-child(4)::before{content:none!important}
.group{grid-template-columns:1fr}
}
@media print{
:root{color-scheme:light;--paper:#fff;--ink:#000;--soft:#444;--rule:#999;--grid:#ddd;--band:#d4d4d4;--served:#f0f0f0;
--edge:#666;--line:#000;--bad:#000;--maybe:#000;--good:#000;--z2:#f2f2f2;--z3:#e2e2e2}
html{font-size:10.5pt;-webkit-print-color-adjust:exact;print-color-adjust:exact}
body{max-width:none;padding:0}
h2,h3,h3+.note{break-after:avoid}.plots,.group,tr,.test{break-inside:avoid}.plots{break-after:avoid}
.plots{grid-template-columns:1fr 1fr}
@page{margin:16mm 14mm}
}
"""


def policy() -> str:
    """Content policy of the sheet: nothing is fetched, nothing runs, and only this very style applies."""
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
