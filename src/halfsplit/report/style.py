"""The look of the sheets: a printed form, filled in; paper and ink by day, the same at night, plain black in print."""

from __future__ import annotations

import base64
import hashlib

FACE = '"Atkinson Hyperlegible Next","Helvetica Neue",Helvetica,"Liberation Sans",Arial,sans-serif'

STYLE = """
:root{color-scheme:light dark;--paper:#fbfcfa;--ink:#14181b;--soft:#434e55;--form:#36546b;--rule:#93a5b1;--hair:#d3dce0;
--pencil:#a1121b;--field:#c4d0d6;--served:#eaf0f2;--on-ink:#fbfcfa}
@media (prefers-color-scheme:dark){:root{--paper:#15181a;--ink:#eeece6;--soft:#bcc4c8;--form:#a3bccb;--rule:#56656f;
--hair:#2d363b;--pencil:#ff9e93;--field:#3a4851;--served:#1c2326;--on-ink:#15181a}}
*{box-sizing:border-box}
html{background:var(--paper);color:var(--ink);font:16px/1.45 FACE;-webkit-text-size-adjust:100%}
body{max-width:1080px;margin:0 auto;padding:32px 28px 64px;overflow-wrap:anywhere}
h1{font-size:30px;line-height:1.15;margin:2px 0 12px;font-weight:700}
h2{font-size:19px;margin:38px 0 10px;padding-top:8px;border-top:2px solid var(--form);color:var(--form);font-weight:700}
h3{font-size:16px;margin:22px 0 4px;font-weight:700}
p{margin:0 0 10px;max-width:75ch}
a{color:inherit}
.label{font-size:14px;color:var(--form);margin:0}
header{border:2px solid var(--form);padding:14px 18px 6px}
.belief{font-size:22px;line-height:1.35;margin:14px 0 8px}
.meta,.note{color:var(--soft);font-size:14.5px}
dl{display:grid;grid-template-columns:max-content 1fr;gap:4px 18px;margin:0 0 12px}
dt,th,.caption{font-size:14px;color:var(--form);font-weight:400}
dt{padding-top:2px}
dd{margin:0}
code,pre{font:13px/1.5 "DejaVu Sans Mono",Consolas,monospace;word-break:break-all}
pre{white-space:pre-wrap;border:1px solid var(--rule);padding:10px 12px}
table{border-collapse:collapse;width:100%;margin:0 0 14px}
th{text-align:left;border-bottom:1px solid var(--form);padding:4px 14px 4px 0}
td{border-bottom:1px solid var(--hair);padding:7px 14px 7px 0;vertical-align:top}
td:first-child,.bands td:nth-child(2),.checks td:nth-child(n+3){white-space:nowrap}
ul{margin:4px 0 10px;padding-left:20px}
li{margin:2px 0}
.word,.standing{font-size:14px;white-space:nowrap;padding:1px 7px;border:1.5px solid currentColor;font-weight:700}
.doubtful{border-style:dashed}
.outside,.standing.suspect{color:var(--on-ink);background:var(--pencil);border-color:var(--pencil)}
.untold{color:var(--soft);border-style:dotted;font-weight:400}
.standing{font-size:12px;padding:0 3px}
.standing.cleared,.standing.partly,.standing.untested{border-color:transparent;font-weight:400}
ol.loud{list-style:none;padding:0;margin:0}
ol.loud li{border-bottom:1px solid var(--hair);padding:7px 0}
.plots{display:grid;grid-template-columns:1fr 1fr;gap:8px 26px;margin:10px 0 4px}
figure{margin:0}
figure>svg{display:block;width:100%;height:auto;overflow:visible}svg.window{overflow:hidden}
section.reading{margin:0 0 34px}
section.reading>h3{display:flex;gap:12px;flex-wrap:wrap;align-items:baseline}
.withdrawn{text-decoration:line-through;color:var(--soft)}
.probability{font-size:20px;font-weight:700;white-space:nowrap}
.group{display:grid;grid-template-columns:74px 1fr;gap:0 14px;border-bottom:1px solid var(--hair);padding:12px 0}
.group h3{margin:0 0 4px}
.group .bar{display:block;width:66px;height:8px;margin-top:4px}
.cause{margin:8px 0 0}
.cause p{margin:0}
.speaks{font-size:14.5px}
.caution{border-left:5px double var(--pencil);padding:2px 0 2px 14px;margin:10px 0}
ul.caution{padding-left:30px}
.kept td:first-child{white-space:normal;min-width:84px}.kept td:nth-child(3){min-width:130px}
.strip{list-style:none;display:flex;flex-wrap:wrap;padding:0;margin:8px 0 12px}
.station{flex:0 0 76px;width:76px;text-align:center;line-height:1.2;margin:0 0 8px;position:relative}
.station::before{content:"";position:absolute;left:0;right:0;top:27px;border-top:2px solid var(--ink)}
.hold{position:relative;display:block}
.station .symbol{display:block;margin:0 auto;width:76px;height:56px}
.station .name{display:block;font-weight:700}.station .what{display:block;font-size:12px;color:var(--soft)}
.said{display:block}.tie{display:block;font-size:13px;font-weight:700}.instrument{vertical-align:middle;width:18px;height:18px}
.ladder{display:block;max-width:100%;height:auto;margin:4px 0 10px}
.sign{display:grid;grid-template-columns:1fr 1fr;gap:40px;margin-top:56px}
.sign p{border-top:1px solid var(--ink);padding-top:4px;color:var(--form);font-size:14px}
footer{margin-top:44px;border-top:1px solid var(--rule);padding-top:10px;font-size:13.5px;color:var(--soft)}
STROKES
@media screen and (max-width:720px){
body{padding:16px 14px 40px}
.plots,.sign{grid-template-columns:1fr;gap:18px}
dl{grid-template-columns:1fr;gap:0}dd{margin-bottom:8px}
thead{display:none}
table,tbody,tr,td{display:block}
tr{border-bottom:1px solid var(--hair);padding:8px 0}
td,td:first-child,.bands td:nth-child(2),.checks td:nth-child(n+3){border:0;padding:1px 0;white-space:normal}
td:not(:first-child):not(:empty)::before{content:attr(data-head) ": ";color:var(--form);font-size:14px}
.checks td:nth-child(2)::before,.bands td:nth-child(4)::before{content:none!important}
.group{grid-template-columns:1fr}
}
@media print{
:root{color-scheme:light;--paper:#fff;--ink:#000;--soft:#333;--form:#333;--rule:#777;--hair:#bbb;--pencil:#000;
--field:#d0d0d0;--served:#f0f0f0;--on-ink:#fff}
html{font-size:10pt;-webkit-print-color-adjust:exact;print-color-adjust:exact}
body{max-width:none;padding:0}
dl{display:block}dt{float:left;clear:left;width:66pt}dd{margin:0 0 3pt 72pt}
.group{display:block}.group .bar{margin:2pt 0 4pt}
.plots{display:flex;flex-wrap:wrap;gap:0 2%}.plots figure{flex:0 0 48%;width:48%;break-inside:avoid}
.meta,.note,.speaks,dt,th,.caption,.label,.word{font-size:9pt}footer,.standing,.station .what{font-size:8pt}
h1{font-size:20pt}h2{font-size:13pt;margin-top:18pt}.belief{font-size:14pt}
h2,h3,h3+.note{break-after:avoid}.group,tr,.test,.ladder,.strip,.sign{break-inside:avoid}
@page{margin:16mm 14mm;@bottom-right{content:counter(page) " of " counter(pages);font:9pt FACE;color:#333}}
}
"""

STROKES = """
text{font-size:12px;fill:var(--ink)}
text.figure,text.axis{fill:var(--form)}text.small{font-size:10.5px;fill:var(--soft)}
text.loud{font-weight:700;paint-order:stroke;stroke:var(--paper);stroke-width:4px}
.ladder text{font-size:14px}text.ref{font-weight:700}text.value{fill:var(--soft)}
.grid{stroke:var(--hair);stroke-width:.8}.frame{fill:none;stroke:var(--form);stroke-width:1}
.served{fill:var(--served)}.servededge{stroke:var(--form);stroke-width:1;stroke-dasharray:2 2}
.harmonic{fill:var(--rule)}
.sound{fill:var(--field);stroke:var(--soft);stroke-width:.5;fill-opacity:.8}
.expected{fill:none;stroke:var(--soft);stroke-width:1.1;stroke-dasharray:6 3}
.reading{fill:none}polyline.reading,line.reading{stroke:var(--ink);stroke-width:2.2;stroke-linejoin:round}
.mark{fill:var(--ink)}.least{fill:none;stroke:var(--ink);stroke-width:1.2}.edge{fill:var(--ink)}
.ring{fill:none;stroke:var(--pencil);stroke-width:1.8}
.zero{stroke:var(--ink);stroke-width:1}.two{stroke:var(--soft);stroke-width:.8;stroke-dasharray:4 3}
.three{stroke:var(--soft);stroke-width:1.1}
.zone2{fill:var(--served)}.zone3{fill:var(--field);fill-opacity:.5}
.barback{fill:none;stroke:var(--soft);stroke-width:1}.barfill{fill:var(--ink)}
.body,.hollow{fill:var(--paper);stroke:var(--ink);stroke-width:2;stroke-linejoin:round}
.thin{fill:none;stroke:var(--ink);stroke-width:1.6;stroke-linecap:round}
.wire{fill:none;stroke:var(--ink);stroke-width:2;stroke-linecap:round}.plate{fill:none;stroke:var(--ink);stroke-width:2.6}
.blank{fill:none;stroke:var(--paper);stroke-width:6}.dot{fill:var(--ink)}
.shared{fill:none;stroke:var(--ink);stroke-width:2;stroke-dasharray:6 3}
.symbol .ring,.ladder .ring{fill:var(--paper);stroke:var(--ink)}
.part.suspect .wire,.part.suspect .plate,.part.suspect .hollow,.shared.suspect{stroke:var(--pencil);stroke-width:3.6}
.part.untested .wire,.part.untested .plate,.part.untested .hollow{stroke:var(--soft);stroke-dasharray:3 3}
"""
"""How every stroke of an inline drawing looks; also put into each drawing of a PDF, see pdf.py."""

STYLE = STYLE.replace("STROKES", STROKES).replace("FACE", FACE)


def policy() -> str:
    """Content policy of the sheet: nothing is fetched, nothing runs, and only this very style applies."""
    digest = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
    return f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
