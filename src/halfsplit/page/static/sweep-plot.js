// <sweep-plot src="/job/NAME/trace/KEY/WHAT.json">: page/traces.py says what the JSON holds; several addresses, parted by
// blanks, are drawn together. The drawings within the element are shown until the script has drawn, and in print.
// Left: the trace over what sound units show. Right: how far it is off, in dB and in units of tolerance.
(() => {
"use strict";
const SHEET = document.querySelector('link[href*="uplot"]')?.href;
const LOOK = `:host{display:block}.live{display:none}.live.ready{display:grid;grid-template-columns:repeat(2,minmax(0,1fr));gap:.4rem 1.4rem}
.live.ready+slot{display:none}.box{min-width:0;touch-action:pan-y}.box:focus-visible{outline:3px solid var(--ink);outline-offset:2px}.tall{grid-row:span 2}
p{margin:0;color:var(--form);font-size:.875rem}.keys{grid-column:1/-1;display:flex;flex-wrap:wrap;gap:.4rem;align-items:center}
button{font:inherit;color:inherit;background:var(--paper);border:1.5px solid var(--ink);min-height:2.75rem;min-width:2.75rem;padding:.2rem .8rem;cursor:pointer}
button[aria-pressed=true]{background:var(--ink);color:var(--on-ink)}button:focus-visible{outline:3px solid var(--ink);outline-offset:3px}
output{flex:1 1 20rem;min-height:3em;font-size:.94rem;font-variant-numeric:tabular-nums}.u-select{background:var(--ink);opacity:.14}
.u-hz .u-cursor-x,.u-hz .u-cursor-y{border-color:var(--ink)}
@media(max-width:40rem){.live.ready{grid-template-columns:minmax(0,1fr)}}
@media print{.live.ready{display:none}.live.ready+slot{display:block}}`;
const INKS = ["ink", "soft", "form", "rule", "hair", "field", "served", "pencil", "paper"];
const DASHES = [[], [10, 4], [3, 3], [12, 3, 3, 3], [6, 2]];
const num = (v, d = 2) => v == null ? "" : v.toFixed(Math.abs(v) < 9.995 ? d : 1).replace("-", "\u2212");

class SweepPlot extends HTMLElement {
  static observedAttributes = ["src"];
  connectedCallback() {
    if (!this.shadowRoot) {
      this.attachShadow({ mode: "open" }).innerHTML = `${SHEET ? `<link rel="stylesheet" href="${SHEET}">` : ""}
        <div class="live"><div class="box tall" tabindex="0" role="group"></div><div class="box" tabindex="0" role="group"></div>
        <div class="box" tabindex="0" role="group"></div><div class="keys"><button data-do="in" aria-label="closer">+</button>
        <button data-do="out" aria-label="farther">\u2212</button><button data-do="left" aria-label="lower frequencies">\u2190</button>
        <button data-do="right" aria-label="higher frequencies">\u2192</button><button data-do="served">served band</button>
        <button data-do="whole">whole sweep</button><button data-do="log" aria-pressed="true">logarithmic</button>
        <output></output></div></div><slot></slot>`;
      const look = new CSSStyleSheet(); look.replaceSync(LOOK); this.shadowRoot.adoptedStyleSheets = [look];
      this.live = this.shadowRoot.querySelector(".live"); this.log = true; this.plots = [];
      this.live.addEventListener("click", e => e.target.dataset.do && this.act(e.target.dataset.do));
      this.live.addEventListener("keydown", e => this.key(e));
      new ResizeObserver(() => { cancelAnimationFrame(this.due); this.due = requestAnimationFrame(() => this.size()); }).observe(this);
      for (const asked of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)"])
        matchMedia(asked).addEventListener("change", () => this.draw());
    }
    this.load();
  }
  attributeChangedCallback() { if (this.shadowRoot) this.load(); }
  async load() {
    const turn = this.turn = (this.turn || 0) + 1;
    try {
      const got = await Promise.all(this.getAttribute("src").trim().split(/\s+/).map(async a => {
        const answer = await fetch(a); if (!answer.ok) throw new Error(answer.status); return answer.json(); }));
      if (turn === this.turn) { this.take(got); this.draw(); }
    } catch (why) { if (turn === this.turn) this.dataset.trouble = why.message; }
  }
  take(got) { // clean first: no 0 Hz, no equal x, every curve on one axis
    const at = new Set(); for (const t of got) for (const f of t.f) if (f > 0) at.add(f);
    this.x = Float64Array.from(at).sort(); const place = new Map(); this.x.forEach((f, i) => place.set(f, i));
    const spread = (t, values) => { const out = new Array(this.x.length).fill(null);
      if (values) t.f.forEach((f, i) => { if (f > 0 && Number.isFinite(values[i])) out[place.get(f)] = values[i]; }); return out; };
    const floor = got.reduce((low, t) => Math.min(low, ...t.read, ...(t.expected || [])), 0) - 15; // a wide stop band ends here
    const clip = values => values?.map(v => Math.max(v, floor));
    this.first = got[0]; this.got = got;
    this.data = [["read", "expected", "low", "high"], ["off", null, "off_low", "off_high"], ["sigma"]].map(names => [
      this.x, ...names.slice(1).map(n => spread(got[0], n && clip(got[0][n]))), ...got.map(t => spread(t, t[names[0]]))]);
    this.down = spread(got[0], got[0].at_least);
    if (!this.span || !(this.span[0] < this.span[1])) this.span = this.whole();
  }
  whole() { const a = this.x[0], b = this.x[this.x.length - 1]; return b / a > 1.02 ? [a, b] : [a / 1.1, b * 1.1]; }
  ink() { const probe = document.createElement("i"); this.shadowRoot.append(probe); const of = {};
    for (const n of INKS) { probe.style.color = `var(--${n})`; of[n] = getComputedStyle(probe).color; } probe.remove(); return of; }
  draw() {
    if (!this.data || !this.x.length) return;
    const c = this.c = this.ink(); this.font = `13px ${getComputedStyle(this).fontFamily}`;
    for (const p of this.plots) p.destroy();
    this.live.classList.add("ready");
    const names = [this.first.quantity, "deviation, dB", "deviation, in units of tolerance"];
    this.plots = [...this.live.querySelectorAll(".box")].map((box, n) => {
      box.replaceChildren(Object.assign(document.createElement("p"), { textContent: names[n] }));
      box.setAttribute("aria-label", `${this.first.label}: ${names[n]}; keys: plus and minus zoom, arrows move, 0 whole sweep, S served band, L frequency axis`);
      const plot = new uPlot(this.options(n, box.clientWidth, c), this.data[n], box); this.touch(plot); return plot; });
    this.limit(); this.say(null);
  }
  options(n, width, c) {
    const axis = { stroke: c.form, font: this.font, grid: { stroke: c.hair, width: 1 }, ticks: { stroke: c.rule, width: 1, size: 5 } };
    const none = { points: { show: false }, spanGaps: true }, line = { spanGaps: true, width: 2.4, points: { show: this.x.length < 60, size: 6, fill: c.ink } };
    const band = n < 2 ? [{ label: "middle", stroke: c.soft, dash: [6, 4], width: 1.4, ...none, show: n === 0 }, { label: "low", stroke: c.rule, width: 1, ...none },
      { label: "high", stroke: c.rule, width: 1, ...none }] : [];
    return { width, height: n ? 190 : 424, legend: { show: false }, pxAlign: 0, cursor: { sync: { key: this.id || "sweep", setSeries: false }, points: { size: 8, fill: c.ink },
        drag: { x: true, y: false, setScale: true }, y: false }, ms: 1,
      scales: { x: { time: false, distr: this.log ? 3 : 1, log: 10, range: () => this.span }, y: { range: (u, a, b) => this.reach(n, a, b) } },
      series: [{}, ...band, ...this.got.map((t, k) => ({ label: t.key, stroke: c.ink, dash: DASHES[k % DASHES.length], ...line }))],
      bands: n < 2 ? [{ series: [3, 2], fill: c.field }] : [],
      axes: [{ ...axis, space: 54, splits: this.log ? u => ticks(...this.span, u.bbox.width / devicePixelRatio) : undefined, filter: (u, v) => v, values: (u, v) => v.map(f => f == null ? "" : +(f / 1e6).toPrecision(4)),
          label: n ? null : "frequency, MHz", labelFont: this.font, labelSize: 20, size: 34 },
        { ...axis, size: 52, values: (u, v) => v.map(y => String(y).replace("-", "\u2212")) }],
      hooks: { drawClear: [u => this.ground(u, n, c)], draw: [u => this.marks(u, n, c)], setCursor: [u => this.say(u.cursor.idx)],
        setScale: [(u, key) => key === "x" && this.follow(u)], setSelect: [u => u.select.width > 4 && this.go(u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x"))] } };
  }
  reach(n, a, b) { // where the served band is off it sets the scale of the deviation
    if (n === 2) { const far = Math.max(4, Math.min(12, 1.1 * Math.max(Math.abs(a ?? 0), Math.abs(b ?? 0)))); return [-far, far]; }
    const pad = Math.max(1, 0.06 * (b - a)); return [Math.min(a, n ? -1 : a) - pad, Math.max(b, n ? 1 : b) + pad];
  }
  ground(u, n, c) { // served band, and beyond 2 and 3 units of tolerance
    const g = u.ctx, { left, top, width, height } = u.bbox, at = f => Math.min(Math.max(u.valToPos(f, "x", true), left), left + width);
    const [lo, hi] = this.first.served; g.save();
    if (n === 2) for (const [z, ink] of [[2, c.served], [3, c.field]]) for (const s of [1, -1]) { g.fillStyle = ink;
      const y = Math.min(Math.max(u.valToPos(s * z, "y", true), top), top + height), end = s > 0 ? top : top + height; g.fillRect(left, Math.min(y, end), width, Math.abs(end - y)); }
    if (at(hi) > at(lo)) { g.fillStyle = c.served; if (n < 2) g.fillRect(at(lo), top, at(hi) - at(lo), height);
      g.strokeStyle = c.form; g.setLineDash([3, 4]); g.lineWidth = 1; g.beginPath(); for (const f of [lo, hi]) { g.moveTo(at(f), top); g.lineTo(at(f), top + height); } g.stroke(); }
    if (n) { const y = u.valToPos(0, "y", true); g.setLineDash([]); g.strokeStyle = c.soft; g.lineWidth = 1; g.beginPath(); g.moveTo(left, y); g.lineTo(left + width, y); g.stroke(); }
    g.restore();
  }
  marks(u, n, c) { // the frame, and arrows where a value is only known to be there or lower
    const g = u.ctx, { left, top, width, height } = u.bbox, r = devicePixelRatio; g.save(); g.strokeStyle = c.form; g.lineWidth = r; g.strokeRect(left, top, width, height);
    if (n === 0) { g.strokeStyle = c.ink; g.lineWidth = 1.4 * r; let last = -1e9; const line = this.data[0][4];
      for (let i = 0; i < this.x.length; i++) { if (!this.down[i] || line[i] == null) continue; const x = u.valToPos(this.x[i], "x", true), y = u.valToPos(line[i], "y", true);
        if (x < left || x > left + width || x - last < 12 * r) continue; last = x; g.beginPath(); g.moveTo(x, y); g.lineTo(x, y + 9 * r); g.moveTo(x - 3 * r, y + 5 * r); g.lineTo(x, y + 9 * r); g.lineTo(x + 3 * r, y + 5 * r); g.stroke(); } }
    g.restore();
  }
  say(i) {
    const out = this.live.querySelector("output"), t = this.data; if (i == null || i === undefined) { out.textContent = "Drag across a plot to look closer; two fingers, the wheel or the keys + \u2212 \u2190 \u2192 do the same."; return; }
    const read = this.got.map((g, k) => `${this.got.length > 1 ? g.key + " " : ""}${num(t[0][4 + k][i])} dB`).join(", "), off = t[1][4][i], z = t[2][1][i];
    const sound = t[0][1][i] == null ? "" : `; sound units ${num(t[0][1][i])} dB (${num(t[0][2][i])} to ${num(t[0][3][i])})`;
    out.textContent = `${+(this.x[i] / 1e6).toPrecision(6)} MHz: ${this.down[i] ? "at or below " : ""}${read}${sound}${off == null ? "" : `; off by ${num(off)} dB`}${z == null ? "" : `, ${num(z, 1)} times its tolerance`}.`;
  }
  go(a, b) { // every window of the sweep, kept within it and never empty
    const [lo, hi] = this.whole(), f = this.log ? Math.log : v => v, g = this.log ? Math.exp : v => v; let x = f(a), y = f(b);
    const least = (f(hi) - f(lo)) / 400; if (y - x < least) { const m = 0.5 * (x + y); x = m - least / 2; y = m + least / 2; }
    if (y - x > f(hi) - f(lo)) { x = f(lo); y = f(hi); } if (x < f(lo)) { y += f(lo) - x; x = f(lo); } if (y > f(hi)) { x -= y - f(hi); y = f(hi); }
    this.span = [Math.max(g(x), lo), Math.min(g(y), hi)]; cancelAnimationFrame(this.frame); this.frame = requestAnimationFrame(() => this.limit());
  }
  limit() { this.busy = true; for (const p of this.plots) p.batch(() => { p.setScale("x", { min: this.span[0], max: this.span[1] }); p.setSelect({ width: 0, height: 0 }, false); }); this.busy = false; }
  follow(u) { if (this.busy) return; const { min, max } = u.scales.x; if (min !== this.span[0] || max !== this.span[1]) this.go(min, max); }
  zoom(by, at = 0.5) { const l = this.log, [a, b] = l ? this.span.map(Math.log) : this.span, m = a + at * (b - a), w = (b - a) * by; const s = [m - at * w, m + (1 - at) * w]; this.go(...(l ? s.map(Math.exp) : s)); }
  move(by) { const l = this.log, [a, b] = l ? this.span.map(Math.log) : this.span, d = by * (b - a), s = [a + d, b + d]; this.go(...(l ? s.map(Math.exp) : s)); }
  act(what) { const [a, b] = this.first.served; ({ in: () => this.zoom(0.6), out: () => this.zoom(1 / 0.6), left: () => this.move(-0.25), right: () => this.move(0.25),
      served: () => this.go(a - 0.5 * (b - a), b + 0.5 * (b - a)), whole: () => this.go(...this.whole()),
      log: () => { this.log = !this.log; this.live.querySelector("[data-do=log]").setAttribute("aria-pressed", this.log); this.draw(); } })[what](); }
  key(e) { const what = { "+": "in", "=": "in", "-": "out", ArrowLeft: "left", ArrowRight: "right", 0: "whole", Home: "whole", s: "served", S: "served", l: "log", L: "log" }[e.key];
    if (what && e.target.classList.contains("box") && !e.ctrlKey && !e.metaKey && !e.altKey) { e.preventDefault(); this.act(what); } }
  touch(u) { // wheel with a modifier or while focused; two fingers
    const o = u.over, share = x => (x - o.getBoundingClientRect().left) / o.clientWidth; let held = null;
    o.addEventListener("wheel", e => { if (!e.ctrlKey && this.shadowRoot.activeElement !== o.closest(".box")) return; e.preventDefault(); this.zoom(Math.exp(0.002 * e.deltaY), share(e.clientX)); }, { passive: false });
    o.addEventListener("touchmove", e => { if (e.touches.length !== 2) { held = null; return; } e.preventDefault(); const [p, q] = [...e.touches].map(t => share(t.clientX)), now = [(p + q) / 2, Math.max(Math.abs(p - q), 0.05)];
      if (held) { this.move(held[0] - now[0]); this.zoom(held[1] / now[1], now[0]); } held = now; }, { passive: false });
    o.addEventListener("touchend", () => { held = null; });
  }
  size() { for (const p of this.plots) { const w = p.root.parentElement.clientWidth; if (w && w !== p.width) p.setSize({ width: w, height: p.height }); } }
}
function ticks(a, b, width) { // round values, as many as there is room for
  const room = Math.max(2, Math.floor(width / 54));
  for (const set of [[1, 1.5, 2, 3, 4, 5, 7], [1, 2, 5], [1, 3], [1]]) { const out = [];
    for (let d = Math.floor(Math.log10(a)); d <= Math.log10(b); d++) for (const m of set) { const f = m * 10 ** d; if (f >= a * 0.9999 && f <= b * 1.0001) out.push(f); }
    if (out.length >= 3 && out.length <= room) return out; }
  const step = [1, 2, 5, 10, 20, 50].map(m => m * 10 ** (Math.floor(Math.log10(b - a)) - 1)).find(s => (b - a) / s <= Math.min(room, 6)) || b - a, out = [];
  for (let f = Math.ceil(a / step) * step; f <= b; f += step) out.push(f);
  return out;
}
customElements.define("sweep-plot", SweepPlot);
})();
