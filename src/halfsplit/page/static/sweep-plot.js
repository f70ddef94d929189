// <sweep-plot src="/job/NAME/trace/KEY/WHAT.json">: page/traces.py says what the JSON holds. Several addresses, parted by
// blanks, are drawn together over what sound units show of the first. Left: the trace. Right: how far it is off, in dB
// and in units of tolerance. What stands inside the element is shown until the script has drawn, and in print.
(() => {
"use strict";

const LOOK = `
  :host { display: block }
  .live { display: none }
  .live.ready { display: grid; grid-template-columns: repeat(2, minmax(0, 1fr)); gap: .4rem 1.4rem }
  .live.ready + slot { display: none }
  .box { min-width: 0; touch-action: pan-y }
  .box.tall { grid-row: span 2 }
  .bare .tall { grid-column: 1 / -1 }
  .bare .low { display: none }
  .box p { margin: 0; color: var(--form); font-size: .875rem }
  .keys { grid-column: 1 / -1; display: flex; flex-wrap: wrap; gap: .4rem; align-items: center }
  button { font: inherit; color: inherit; background: var(--paper); border: 1.5px solid var(--ink); min-width: 2.75rem;
    min-height: 2.75rem; padding: .2rem .8rem; cursor: pointer }
  button[aria-pressed=true] { background: var(--ink); color: var(--on-ink) }
  .box:focus-visible, button:focus-visible { outline: 3px solid var(--ink); outline-offset: 2px }
  output { flex: 1 1 20rem; font-size: .94rem; font-variant-numeric: tabular-nums }
  .u-select { background: var(--ink); opacity: .14 }
  .u-hz .u-cursor-x, .u-hz .u-cursor-y { border-color: var(--ink) }
  @media (max-width: 40rem) { .live.ready { grid-template-columns: minmax(0, 1fr) } }
  @media print { .live.ready { display: none } .live.ready + slot { display: block } }`;
const KEYS = `<div class="keys">
  <button data-do="in" aria-label="closer">+</button><button data-do="out" aria-label="farther">\u2212</button>
  <button data-do="left" aria-label="lower frequencies">\u2190</button>
  <button data-do="right" aria-label="higher frequencies">\u2192</button>
  <button data-do="served">served band</button><button data-do="whole">whole sweep</button>
  <button data-do="log" aria-pressed="true">logarithmic</button><output></output></div>`;
const HINT = "Drag across a plot to look closer; two fingers or the keys + \u2212 \u2190 \u2192 do the same.";
const INKS = ["ink", "soft", "form", "rule", "hair", "field", "served"];
const DASHES = [[], [10, 4], [3, 3], [12, 3, 3, 3], [6, 2]];
const DO = { "+": "in", "=": "in", "-": "out", ArrowLeft: "left", ArrowRight: "right", 0: "whole", s: "served", l: "log" };
const TOP = { tall: 424, low: 190 };

const minus = text => String(text).replace("-", "\u2212");
const figure = (v, places = 2) => minus(v.toFixed(Math.abs(v) < 9.995 ? places : 1));
const megahertz = f => +(f / 1e6).toPrecision(6);
const within = (v, low, high) => Math.min(Math.max(v, low), high);

function ticks(low, high, width) { // Hz: round values, as many as there is room for
  const room = Math.max(3, Math.floor(width / 54)), out = [];
  for (const set of [[1, 1.5, 2, 3, 4, 5, 7], [1, 2, 5], [1, 3], [1]]) {
    out.length = 0;
    for (let d = Math.floor(Math.log10(low)); d <= Math.log10(high); d++) {
      out.push(...set.map(m => m * 10 ** d).filter(f => f >= low * 0.9999 && f <= high * 1.0001));
    }
    if (out.length >= 3 && out.length <= room) return out;
  }
  const power = 10 ** (Math.floor(Math.log10(high - low)) - 1);
  const step = [1, 2, 5, 10, 20, 50].map(m => m * power).find(s => (high - low) / s <= Math.min(room, 6)) || high - low;
  out.length = 0;
  for (let f = Math.ceil(low / step) * step; f <= high; f += step) out.push(f);
  return out;
}

class SweepPlot extends HTMLElement {
  static observedAttributes = ["src"];

  connectedCallback() {
    if (!this.shadowRoot) this.furnish();
    this.load();
  }

  attributeChangedCallback() { if (this.shadowRoot) this.load(); }

  furnish() {
    const box = kind => `<div class="box ${kind}" tabindex="0" role="group"></div>`;
    const sheet = document.querySelector('link[href*="uplot"]');
    this.attachShadow({ mode: "open" }).innerHTML =
      `<div class="live">${box("tall")}${box("low")}${box("low")}${KEYS}</div><slot></slot>`;
    if (sheet) this.shadowRoot.prepend(sheet.cloneNode());
    const look = new CSSStyleSheet();
    look.replaceSync(LOOK);
    this.shadowRoot.adoptedStyleSheets = [look];
    this.live = this.shadowRoot.querySelector(".live");
    this.log = true;
    this.plots = [];
    this.live.addEventListener("click", e => e.target.dataset.do && this.act(e.target.dataset.do));
    this.live.addEventListener("keydown", e => this.pressed(e));
    new ResizeObserver(() => this.soon(() => this.resize())).observe(this);
    for (const asked of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)"]) {
      matchMedia(asked).addEventListener("change", () => this.draw());
    }
  }

  soon(what) { cancelAnimationFrame(this.due); this.due = requestAnimationFrame(what); }

  async load() {
    const turn = this.turn = (this.turn || 0) + 1;
    const answers = await Promise.all(this.getAttribute("src").trim().split(/\s+/).map(a => fetch(a)));
    if (turn !== this.turn || !answers.every(a => a.ok)) return; // the drawing inside stays
    const got = await Promise.all(answers.map(a => a.json()));
    if (turn !== this.turn) return;
    this.take(got);
    this.draw();
  }

  take(got) { // onto one axis, without what a logarithmic axis cannot show; a wide stop band ends at the floor
    this.got = got;
    this.x = [...new Set(got.flatMap(t => t.f.filter(f => f > 0)))].sort((a, b) => a - b);
    const place = new Map(this.x.map((f, i) => [f, i]));
    const lowest = t => Math.min(...t.read, ...(t.expected || []));
    const floor = Math.min(0, ...got.map(lowest)) - 15;
    const spread = (t, values, clip = v => v) => {
      const out = new Array(this.x.length).fill(null);
      if (values) t.f.forEach((f, i) => { if (place.has(f) && Number.isFinite(+values[i])) out[place.get(f)] = clip(values[i]); });
      return out;
    };
    const up = v => Math.max(v, floor), first = got[0];
    const sound = names => names.map(n => spread(first, first[n], n.startsWith("off") ? undefined : up));
    this.data = [
      [this.x, ...sound(["low", "high", "expected"]), ...got.map(t => spread(t, t.read, up))],
      [this.x, ...sound(["off_low", "off_high"]), ...got.map(t => spread(t, t.off))],
      [this.x, ...got.map(t => spread(t, t.sigma))],
    ];
    this.down = spread(first, first.at_least, Boolean);
    this.loud = this.matters(first);
    this.span ||= this.whole();
  }

  matters(t) { // where the deviation sets its scale: the served band if that is off, else all that is off or is narrow
    if (!t.off) return () => false;
    const served = t.f.map(f => f >= t.served[0] && f <= t.served[1]), off = t.sigma.map(z => Math.abs(z) >= 2);
    const bad = t.f.filter((f, i) => served[i] && off[i]);
    const all = t.f.filter((f, i) => served[i] || off[i] || t.off_high[i] - t.off_low[i] <= 4);
    const chosen = new Set(bad.length ? bad : all);
    return f => chosen.has(f);
  }

  whole() {
    const low = this.x[0], high = this.x[this.x.length - 1];
    return high / low > 1.02 ? [low, high] : [low / 1.1, high * 1.1];
  }

  inks() { // a canvas does not know the stylesheet's variables: read them off an element
    const probe = this.shadowRoot.appendChild(document.createElement("i")), of = {};
    for (const name of INKS) { probe.style.color = `var(--${name})`; of[name] = getComputedStyle(probe).color; }
    probe.remove();
    return of;
  }

  draw() {
    if (!this.data || !this.x.length) return;
    const c = this.inks(), names = [this.got[0].quantity, "deviation, dB", "deviation, in units of tolerance"];
    this.font = `13px ${getComputedStyle(this).fontFamily}`;
    this.plots.forEach(p => p.destroy());
    this.live.classList.add("ready");
    this.live.classList.toggle("bare", !this.got[0].expected); // not judged yet
    this.plots = [...this.live.querySelectorAll(".box")].map((box, n) => {
      box.replaceChildren(Object.assign(document.createElement("p"), { textContent: names[n] }));
      box.setAttribute("aria-label", `${this.got[0].label}: ${names[n]}. Keys: + \u2212 arrows, 0 whole sweep, s served band, l frequency axis`);
      const plot = new uPlot(this.options(n, box.clientWidth || 300, c), this.data[n], box);
      this.fingers(plot.over);
      return plot;
    });
    this.show();
    this.say(null);
  }

  options(n, width, c) {
    const axis = { stroke: c.form, font: this.font, grid: { stroke: c.hair, width: 1 }, ticks: { stroke: c.rule, width: 1, size: 5 } };
    const line = { points: { show: false }, spanGaps: true }, edge = { stroke: c.rule, width: 1, ...line };
    const middle = { stroke: c.ink, dash: [7, 5], width: 1.2, ...line };
    const trace = { stroke: c.ink, width: 2.4, spanGaps: true, points: { show: this.x.length < 60, size: 6, fill: c.ink } };
    return {
      width, height: n ? TOP.low : TOP.tall, ms: 1, pxAlign: 0, legend: { show: false },
      cursor: { y: false, sync: { key: this.id || "sweep", setSeries: false }, points: { size: 8, fill: c.ink }, drag: { x: true, y: false, setScale: false } },
      scales: {
        x: { time: false, distr: this.log ? 3 : 1, log: 10, range: () => this.span },
        y: { range: (u, low, high) => this.reach(n, low ?? 0, high ?? 0) },
      },
      series: [{}, ...[[edge, edge, middle], [edge, edge], []][n], ...this.got.map((t, k) => ({ ...trace, dash: DASHES[k % DASHES.length] }))],
      bands: n < 2 ? [{ series: [2, 1], fill: c.field }] : [],
      axes: [
        { ...axis, size: 34, label: n ? null : "frequency, MHz", labelFont: this.font, labelSize: 20, filter: (u, v) => v,
          splits: u => ticks(...this.span, u.bbox.width / devicePixelRatio), values: (u, v) => v.map(f => +(f / 1e6).toPrecision(4)) },
        { ...axis, size: 52, values: (u, v) => v.map(minus) },
      ],
      hooks: {
        drawClear: [u => this.ground(u, n, c)], draw: [u => this.over(u, n, c)], setCursor: [u => this.say(u.cursor.idx)],
        setSelect: [u => u.select.width > 4 && this.go(u.posToVal(u.select.left, "x"), u.posToVal(u.select.left + u.select.width, "x"))],
      },
    };
  }

  reach(n, low, high) { // ends of the upright axis
    if (n === 0) { const air = Math.max(1, 0.06 * (high - low)); return [low - air, high + air]; }
    if (n === 2) { const far = within(1.1 * Math.max(Math.abs(low), Math.abs(high)), 4, 12); return [-far, far]; }
    let most = 0;
    this.x.forEach((f, i) => { if (f >= this.span[0] && f <= this.span[1] && this.loud(f)) most = Math.max(most, Math.abs(this.data[1][3][i] ?? 0)); });
    const half = Math.max(1, 1.3 * most || Math.max(Math.abs(low), Math.abs(high)));
    return [-half, half];
  }

  ground(u, n, c) { // under the lines: the served band; beyond 2 and 3 units of tolerance
    const g = u.ctx, { left, top, width, height } = u.bbox, bottom = top + height;
    const x = f => within(u.valToPos(f, "x", true), left, left + width), y = v => within(u.valToPos(v, "y", true), top, bottom);
    const [from, to] = this.got[0].served.map(x);
    const rule = (x1, y1, x2, y2) => { g.beginPath(); g.moveTo(x1, y1); g.lineTo(x2, y2); g.stroke(); };
    g.save();
    g.fillStyle = c.served;
    if (n < 2) g.fillRect(from, top, to - from, height);
    if (n === 2) for (const [z, ink] of [[2, c.served], [3, c.field]]) {
      g.fillStyle = ink;
      g.fillRect(left, top, width, y(z) - top);
      g.fillRect(left, y(-z), width, bottom - y(-z));
    }
    g.lineWidth = devicePixelRatio;
    g.strokeStyle = c.soft;
    if (n) rule(left, y(0), left + width, y(0));
    g.strokeStyle = c.form;
    g.setLineDash([3, 4]);
    for (const at of new Set([from, to])) if (at > left && at < left + width) rule(at, top, at, bottom);
    g.restore();
  }

  over(u, n, c) { // over the lines: the frame; arrows where a value is only known to be there or lower
    const g = u.ctx, { left, top, width, height } = u.bbox, r = devicePixelRatio, line = this.data[0][4];
    g.save();
    g.lineWidth = r;
    g.strokeStyle = c.form;
    g.strokeRect(left, top, width, height);
    g.strokeStyle = c.ink;
    g.beginPath();
    let last = -Infinity;
    if (n === 0) this.x.forEach((f, i) => {
      const x = u.valToPos(f, "x", true), y = u.valToPos(line[i], "y", true);
      if (!this.down[i] || line[i] === null || x < left || x > left + width || x - last < 12 * r) return;
      last = x;
      g.moveTo(x, y); g.lineTo(x, y + 9 * r); g.moveTo(x - 3 * r, y + 5 * r); g.lineTo(x, y + 9 * r); g.lineTo(x + 3 * r, y + 5 * r);
    });
    g.stroke();
    g.restore();
  }

  say(i) { // what stands under the pointer, in words
    const out = this.live.querySelector("output"), [trace, off, sigma] = this.data;
    const first = document.querySelector("sweep-plot") === this;
    if (i === null || i === undefined) { out.textContent = first ? HINT : ""; return; }
    const at = (d, k) => d[k]?.[i] ?? null, said = [];
    const name = t => this.got.length > 1 ? `${t.key} ` : "", atMost = this.down[i] ? "at or below " : "";
    this.got.forEach((t, k) => { const v = at(trace, 4 + k); if (v !== null) said.push(`${name(t)}${atMost}${figure(v)} dB`); });
    if (at(trace, 3) !== null) said.push(`sound units ${figure(at(trace, 3))} dB (${figure(at(trace, 1))} to ${figure(at(trace, 2))})`);
    if (at(off, 3) !== null) said.push(`off by ${figure(at(off, 3))} dB, ${figure(at(sigma, 1), 1)} times its tolerance`);
    out.textContent = `${megahertz(this.x[i])} MHz: ${said.join("; ")}.`;
  }

  go(low, high) { // to another window of the sweep, kept within it and never empty
    const f = this.log ? Math.log : v => v, back = this.log ? Math.exp : v => v, [a, b] = this.whole().map(f);
    const wide = within(f(high) - f(low), (b - a) / 400, b - a);
    const start = within(0.5 * (f(low) + f(high) - wide), a, b - wide);
    this.span = wide === b - a ? this.whole() : [back(start), back(start + wide)];
    this.soon(() => this.show());
  }

  show() {
    const [min, max] = this.span;
    for (const p of this.plots) p.batch(() => { p.setScale("x", { min, max }); p.setSelect({ width: 0, height: 0 }, false); });
  }

  shift(by, zoom = 1, at = 0.5) { // by : shares of the window; at : the share that stays where it is
    const f = this.log ? Math.log : v => v, back = this.log ? Math.exp : v => v, [a, b] = this.span.map(f);
    const start = a + (at + by) * (b - a) - at * zoom * (b - a);
    this.go(back(start), back(start + zoom * (b - a)));
  }

  act(what) {
    const [low, high] = this.got[0].served, air = 0.5 * (high - low);
    if (what === "in" || what === "out") this.shift(0, what === "in" ? 0.6 : 1 / 0.6);
    if (what === "left" || what === "right") this.shift(what === "left" ? -0.25 : 0.25);
    if (what === "served") this.go(low - air, high + air);
    if (what === "whole") this.go(...this.whole());
    if (what === "log") {
      this.log = !this.log;
      this.live.querySelector("[data-do=log]").setAttribute("aria-pressed", String(this.log));
      this.draw();
    }
  }

  pressed(e) {
    const what = DO[e.key.length === 1 ? e.key.toLowerCase() : e.key];
    if (!what || !e.target.classList.contains("box") || e.ctrlKey || e.metaKey || e.altKey) return;
    e.preventDefault();
    this.act(what);
  }

  fingers(over) { // two fingers; the wheel with Ctrl, or while the plot has the focus
    const share = x => (x - over.getBoundingClientRect().left) / over.clientWidth;
    let held = null;
    over.addEventListener("wheel", e => {
      if (!e.ctrlKey && this.shadowRoot.activeElement !== over.closest(".box")) return;
      e.preventDefault();
      this.shift(0, Math.exp(0.002 * e.deltaY), share(e.clientX));
    }, { passive: false });
    over.addEventListener("touchmove", e => {
      if (e.touches.length !== 2) { held = null; return; }
      e.preventDefault();
      const [p, q] = [...e.touches].map(t => share(t.clientX)), now = { middle: (p + q) / 2, apart: Math.max(Math.abs(p - q), 0.05) };
      if (held) this.shift(held.middle - now.middle, held.apart / now.apart, now.middle);
      held = now;
    }, { passive: false });
    over.addEventListener("touchend", () => { held = null; });
  }

  resize() {
    for (const p of this.plots) {
      const width = p.root.parentElement.clientWidth;
      if (width && width !== p.width) p.setSize({ width, height: p.height });
    }
  }
}

customElements.define("sweep-plot", SweepPlot);
})();
