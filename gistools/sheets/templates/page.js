"use strict";
(() => {
  const D = JSON.parse(document.getElementById("figures").textContent);
  const KEYS = ["tee", "player", "wind", "pin"];
  const YARD = 0.9144, FOOT = 0.3048;
  const at = (id) => document.getElementById(id);
  const S = {};

  /* ---- rows and figures ---- */
  const rows = (name) => {
    const t = D.tables[name];
    if (!t) return [];
    return t.rows.map((r, i) => {
      const o = { row: i };
      t.columns.forEach((c, j) => { o[c.name] = r[j]; });
      return o;
    });
  };
  const fits = (r, but) => KEYS.every((k) => k === but || r[k] === undefined || r[k] === null || r[k] === "" || r[k] === S[k]);
  const LEVEL = /(level|rise|eye|drop|blocked|lip|height|backstop)/;
  /* with yards, rises and levels are in feet */
  const yards = (c) => c.unit === "m" && S.units === "yd", rises = (c) => LEVEL.test(c.name);
  const areas = (c) => c.unit === "m2" && S.units === "yd";
  const factor = (c) => (areas(c) ? YARD ** -2 : yards(c) ? 1 / (rises(c) ? FOOT : YARD) : 1);
  const unitOf = (c) => (areas(c) ? "yd²" : yards(c) ? (rises(c) ? "ft" : "yd") : c.shown);
  /* halves go to the even figure, as in the tables and on the terminal: one figure is written in one way */
  const fixed = (v, d = 0) => {
    const k = v * 10 ** d, half = Number.isInteger(1024 * v) && Number.isInteger(2 * k) && !Number.isInteger(k);
    return half ? (2 * Math.round(k / 2) / 10 ** d).toFixed(d) : v.toFixed(d);
  };
  const rise = (m) => (S.units === "yd" ? fixed(m / FOOT, 1) + " ft" : fixed(m, 1) + " m");
  const digits = (c, values) => {
    if (c.unit === "strokes" || c.unit === "m_per_m") return 2;
    const most = Math.max(0, ...values.map((v) => (typeof v === "number" ? Math.abs(v * factor(c)) : 0)));
    if (values.every((v) => v === null || Number.isInteger(v))) return 0;
    if (c.unit === "deg") return 0;
    return most >= 20 && !(c.unit === "m" && LEVEL.test(c.name)) ? 0 : most >= 2 || c.unit === "m" || c.unit === "pct" ? 1 : 2;
  };
  const word = (v, c, d) => {
    if (v === null || v === undefined) return "–";
    if (typeof v === "boolean") return v ? "yes" : "no";
    if (c.name === "figure" && v !== "" && !isNaN(v)) return String(Number(Number(v).toPrecision(4))).replace("-", "−");
    if (c.name === "club" || c.name === "next_club") return club(v);
    if (typeof v === "number") return fixed(v * factor(c), d).replace(/^-(0(\.0*)?)$/, "$1").replace("-", "−");
    return v;
  };
  const len = (m, d = 0) => (S.units === "yd" ? fixed(m / YARD, d) + " yd" : fixed(m, d) + " m");

  /* the length of a part shot ("63 m pitch") in the chosen unit */
  const club = (label) => label.replace(/^(\d+) m (?=.)/, (_, m) => len(+m) + " ");

  /* ---- small makers ---- */
  const make = (tag, attrs, text) => {
    const e = document.createElement(tag);
    for (const k in attrs || {}) e.setAttribute(k, attrs[k]);
    if (text !== undefined) e.textContent = text;
    return e;
  };
  const draw = (tag, attrs, text) => {
    const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const k in attrs) e.setAttribute(k, attrs[k]);
    if (text !== undefined) e.textContent = text;
    return e;
  };
  const VERDICTS = { holds: "met", fails: "not met" };
  const none = (reason) => make("p", { class: "none" }, reason);

  /* ---- tables ---- */
  function table(box) {
    const name = box.dataset.table, t = D.tables[name];
    box.replaceChildren();
    const why = D.reasons[box.dataset.step || name];
    if (box.dataset.zones && !D.zones.length) return box.append(none(box.dataset.empty));
    if (!t) return box.append(none("Not computed: " + ended(why)));
    if (!t.rows.length) return box.append(none(box.dataset.empty || "Nothing here: " + why));
    const onWay = name === "where_to_play" ? new Set(way().flatMap((w) => atPin(w.list).map((r) => r.row))) : null;
    let list = rows(name).filter((r) => (onWay ? onWay.has(r.row) : t.whole || fits(r)));
    if (!list.length) return box.append(none("No row for this choice of tee, player, wind and hole location."));
    if (t.order) list.sort((a, b) => (a.shot_number || 1) - (b.shot_number || 1) || (a[t.order] === null) - (b[t.order] === null) || a[t.order] - b[t.order]);
    const part = t.parts[box.dataset.part], show = part ? part.show : t.show, words = part ? part.caption : t.caption;
    const some = (c) => list.some((r) => r[c.name] !== null && r[c.name] !== "" && r[c.name] !== undefined);
    const cols = t.columns.filter((c) => (show ? show.includes(c.name) : true) && !t.aside.includes(c.name) && some(c))
      .sort((a, b) => (show ? show.indexOf(a.name) - show.indexOf(b.name) : 0));
    const el = make("table"), head = el.createTHead().insertRow(), body = el.createTBody();
    const fixed = KEYS.filter((k) => t.aside.includes(k) && S[k]).map((k) => `${D.words[k].toLowerCase()} ${S[k]}`);
    const caption = make("caption");
    caption.append(make("span", {}, words + (fixed.length ? ": " + fixed.join(", ") : "")));
    el.append(caption);
    const d = {};
    cols.forEach((c) => {
      d[c.name] = digits(c, list.map((r) => r[c.name]));
      c.words = list.every((r) => typeof r[c.name] !== "number");
      const th = make("th", { scope: "col", title: c.text, "data-column": name + "." + c.name }, c.title);
      if (c.words) th.className = c.name === "why" || c.name === "reading" ? "words long" : "words";
      const u = unitOf(c);
      if (u) th.append(make("small", {}, u));
      head.append(th);
    });
    list.forEach((r, i) => {
      const tr = body.insertRow();
      if (t.order && i === 0 && r[t.order] !== null) tr.className = "best";
      cols.forEach((c, j) => {
        const cell = j === 0 ? make("th", { scope: "row" }) : make("td");
        cell.textContent = (t.verdict === c.name && VERDICTS[r[c.name]]) || word(r[c.name], c, d[c.name]);
        if (c.words) cell.classList.add("words");
        if (t.verdict === c.name && ["fails", "holds"].includes(r[c.name])) cell.classList.add(r[c.name]);
        tr.append(cell);
      });
    });
    const wide = make("div", { class: "wide", tabindex: "0", role: "region", "aria-label": words });
    wide.append(el);
    box.append(wide);
    const named = (r) => (r.zone && !r[t.reading].includes(r.zone) ? `${r.zone}: ${r[t.reading]}` : r[t.reading]);
    const said = t.reading && !part ? [...new Set(list.filter((r) => r[t.reading]).map(named))] : [];
    if (said.length) {
      const ul = make("ul", { class: "reading" });
      said.forEach((s) => ul.append(make("li", {}, sentence(s))));
      box.append(ul);
    }
  }

  /* ---- the plan ---- */
  const PX = D.view[2] - D.view[0], PY = D.view[3] - D.view[1];
  let view = D.view;
  /* the view of the plan, widened so that ellipses are whole */
  const fit = (ellipses) => {
    view = ellipses.reduce((v, e) => {
      const t = (e.turn * Math.PI) / 180, [a, b] = e.axes, [x, y] = e.at, m = 3;
      const w = Math.hypot(a * Math.cos(t), b * Math.sin(t)) + m, h = Math.hypot(a * Math.sin(t), b * Math.cos(t)) + m;
      return [v[0], Math.min(v[1], y - h), Math.max(v[2], x + w), Math.max(v[3], y + h)];
    }, D.view);
  };
  const narrow = matchMedia("screen and (max-width: 44rem)");
  let u = PX / 1150; // one unit of text size on a wide page, in metres

  /* words on a drawing, each at the first place beside its spot where it lies in the view and covers no other
     word; `k` is one unit of text size; a word that has to be there stays at its first place at the worst.
     With `up` the drawing is turned and words are turned back: places are chosen as the reader sees them. */
  const words = (g, box, k, up = false) => {
    const seen = ([x, y]) => (up ? [y, -x] : [x, y]), drawn = ([a, b]) => (up ? [-b, a] : [a, b]);
    const [a, b] = [seen([box[0], box[1]]), seen([box[2], box[3]])], taken = [];
    const low = [Math.min(a[0], b[0]), Math.min(a[1], b[1])], high = [Math.max(a[0], b[0]), Math.max(a[1], b[1])];
    const clear = ([l, t, r, d]) => l >= low[0] && t >= low[1] && r <= high[0] && d <= high[1] && !taken.some((o) => l < o[2] && r > o[0] && t < o[3] && d > o[1]);
    const keep = (t) => { // a word that stands where it is
      const f = t.getBBox(), [x, y] = [+t.getAttribute("x"), +t.getAttribute("y")], [l, d] = seen([x, y]);
      taken.push([l + f.x - x, d + f.y - y, l + f.x - x + f.width, d + f.y - y + f.height]);
    };
    const write = (spot, text, css, size, gap = 0, must = true) => {
      const t = draw("text", { x: 0, y: 0, class: "halo " + css, "font-size": size * k, "stroke-width": 3.2 * k }, text);
      g.append(t);
      const f = t.getBBox(), w = f.width, h = f.height, e = gap * k, [l, d] = seen(spot);
      const ring = (n) => [[e, n * h - h / 2], [-e - w, n * h - h / 2], [e, -n * h - h / 2], [-e - w, -n * h - h / 2]];
      const level = (n) => [[-w / 2, -e - h - n * h], [-w / 2, e + n * h]];
      const beside = gap ? [...ring(0), ...level(0), ...ring(1), ...level(1), ...ring(2), ...level(2), ...ring(3), ...level(3), ...ring(4), ...ring(5)] : [[-w / 2, -h / 2], ...level(0.1), ...level(1), ...ring(0), ...level(2), ...level(3), ...ring(4)];
      const boxes = beside.map(([x, y]) => [l + x, d + y, l + x + w, d + y + h]);
      const at = boxes.find(clear) || (must ? boxes[0] : null);
      if (!at) { t.remove(); return false; }
      taken.push(at);
      const [x, y] = drawn([at[0] - f.x, at[1] - f.y]);
      t.setAttribute("x", x); t.setAttribute("y", y);
      if (up) t.setAttribute("transform", `rotate(90 ${x} ${y})`);
      return true;
    };
    return { keep, write };
  };

  /* on a narrow page play runs up the page, and words stay level */
  function turn() {
    const g = at("turn"), s = g.ownerSVGElement, up = narrow.matches;
    u = up ? PY / 360 : PX / 1150;
    const [w, n, e, so] = view;
    s.setAttribute("viewBox", up ? `${n} ${-e} ${so - n} ${e - w}` : `${w} ${n} ${e - w} ${so - n}`);
    g.toggleAttribute("transform", up);
    if (up) g.setAttribute("transform", "rotate(-90)");
    const long = S.units === "yd" ? 50 * YARD : 50;
    g.querySelector("[data-bar]").setAttribute("d", g.querySelector("[data-bar]").getAttribute("d").replace(/h.*/, "h" + long));
    g.querySelectorAll("[data-fixed]").forEach((t) => {
      if (t.dataset.fixed) {
        t.textContent = "50 " + S.units;
        t.setAttribute("text-anchor", up ? "end" : "start");
      }
      if (up) t.setAttribute("transform", `rotate(90 ${t.getAttribute("x")} ${t.getAttribute("y")})`);
      else t.removeAttribute("transform");
    });
  }
  const shape = (g, s, css, title) => {
    const p = draw("path", { d: s.d, class: css });
    if (title) p.append(draw("title", {}, title));
    g.append(p);
  };

  function plan() {
    const g = at("over"), under = at("under");
    if (!g) return;
    g.replaceChildren(); under.replaceChildren();
    u = narrow.matches ? PY / 360 : PX / 1150;
    shade(under);
    const zones = rows("zones");
    D.zones.forEach((z) => {
      const r = zones[z.row];
      if (!fits(r)) return;
      shape(g, z, "o-zone" + (r.zone === target() ? " first" : ""), r.zone);
    });
    const play = rows("lines_of_play");
    D.lines.forEach((l) => { if (fits(play[l.row])) shape(g, l, "o-line", "line of play"); });
    const carry = rows("carries");
    D.carries.forEach((c) => {
      const r = carry[c.row];
      if (!fits(r)) return;
      shape(g, c, "o-carry", `${r.feature}: carry ${len(r.carry_m)}`);
      shape(g, { d: c.over }, "o-over", `${r.feature}: reach ${len(r.reach_m)}, carry ${len(r.carry_m)}`);
    });
    const to = target();
    const pin = D.pins.find((p) => p.pin === S.pin), shown = [];
    let from = (D.tees.find((t) => t.tee === S.tee) || {}).at;
    way().forEach((w) => {
      const r = w.shot === 1 ? atPin(w.list).find((i) => i.zone === to) : atPin(w.list)[0];
      const f = r && D.cards.find((i) => i.row === r.row);
      if (!f) return;
      const e = draw("ellipse", { cx: f.at[0], cy: f.at[1], rx: f.axes[0], ry: f.axes[1], transform: `rotate(${f.turn} ${f.at.join(" ")})`, class: "o-shot" });
      e.append(draw("title", {}, `${r.club}: 90 % finish inside`));
      g.append(e);
      if (from) g.append(draw("path", { class: "o-flight", d: `M${from.join()} ${f.at.join()}` }));
      from = f.at;
      shown.push(r);
    });
    const last = shown[shown.length - 1];
    if (pin && from && last && last.zone && last.zone !== "green") g.append(draw("path", { class: "o-in", d: `M${from.join()} ${pin.at.join()}` }));
    fit(shown.map((r) => D.cards.find((i) => i.row === r.row)));
    D.pins.forEach((p) => {
      const on = p.pin === S.pin, r = (on ? 6.5 : 4) * u;
      const c = draw("circle", { cx: p.at[0], cy: p.at[1], r, class: on ? "o-pin on" : "o-pin", "stroke-width": 1.2 * u });
      c.append(draw("title", {}, p.pin));
      g.append(c);
    });
    turn();
    const { keep, write } = words(g, view, u, narrow.matches);
    document.querySelectorAll("#turn [data-fixed]").forEach(keep);
    const tee = D.tees.find((t) => t.tee === S.tee);
    if (pin) write(pin.at, S.pin, "t-zone", 13, 10);
    if (tee) write(tee.at, S.tee + " tee", "t-zone", 13, 12);
    D.zones.forEach((z) => {
      const r = zones[z.row];
      if (fits(r)) write(z.at, `${z.row + 1} ${r.zone}`, "t-zone", 13);
    });
    D.carries.forEach((c) => {
      const r = carry[c.row];
      if (!fits(r)) return;
      const words = [`${r.feature} ${len(r.carry_m)}`, len(r.carry_m)];
      words.find((text) => write(c.tip, text, "t-carry", 11.5, 6, false));
    });
    if (S.shade === "setbacks") D.conflicts.forEach((s) => {
      const r = rows("setback_conflicts")[s.row];
      if (r.separation_m > 0) write(s.at, len(r.separation_m), "t-carry", 11, 3, false);
    });
  }

  /* the green drawn large: tiers, fair ground, hole locations, and the next shot from each zone; of the zone
     played to and the best other one where that shot can land, and of the first of them the misses */
  function inset() {
    const parts = at("parts"), g = at("arrows"), [w, n, e, so] = D.inset, k = (e - w) / 460;
    parts.replaceChildren(); g.replaceChildren();
    D.fair_areas.forEach((s) => shape(parts, s, "g-fair", "fair ground for a hole"));
    D.green_parts.forEach((s) => shape(parts, s, "g-part", s.text));
    const pin = D.pins.find((p) => p.pin === S.pin), labels = [];
    const list = pin ? atPin(way().pop().list).filter((r) => r.hold_pct !== null) : [];
    const to = target(), drawn = [...list.filter((r) => r.zone === to), ...list.filter((r) => r.zone !== to)].slice(0, 2);
    const landing = (r) => D.landings.find((i) => i.row === r.row) || { misses: [] };
    drawn.slice().reverse().forEach((r) => {
      const one = landing(r), second = r === drawn[1] ? " second" : "", from = r.zone || S.tee + " tee";
      if (one.holds && !second) shape(g, { d: one.holds }, "o-hold" + second, `from ${from}: lands here and holds the green`);
      if (one.feeds) shape(g, { d: one.feeds }, "o-feed" + second, `from ${from}: lands here and comes to rest within ${len(6)}`);
    });
    list.forEach((r) => {
      const z = D.zones.find((i) => rows("zones")[i.row].zone === r.zone), f = D.cards.find((i) => i.row === r.row);
      const tee = D.tees.find((t) => t.tee === S.tee), start = !r.zone ? tee && tee.at : r.next_from === "zone centre" ? z && z.at : f && f.at;
      if (!start) return;
      const dx = pin.at[0] - start[0], dy = pin.at[1] - start[1], far = Math.hypot(dx, dy), ux = dx / far, uy = dy / far;
      const along = (v) => [start[0] + ux * v, start[1] + uy * v];
      const reach = Math.min(ux > 0 ? (pin.at[0] - w) / ux : 1e9, ux < 0 ? (pin.at[0] - e) / ux : 1e9, uy > 0 ? (pin.at[1] - n) / uy : 1e9, uy < 0 ? (pin.at[1] - so) / uy : 1e9);
      const tail = along(Math.max(far - reach + 10 * k, 0)), tip = along(far - 7 * k);
      const css = r === drawn[0] ? " on" : r === drawn[1] ? " second" : "";
      g.append(draw("path", { class: "o-arrow" + css, d: `M${tail.join()} ${tip.join()}` }));
      g.append(draw("path", { class: "o-head" + css, transform: `translate(${tip.join(" ")}) rotate(${(Math.atan2(uy, ux) * 180) / Math.PI}) scale(${k})`, d: "M0,0 -11,-4.5 -11,4.5Z" }));
      labels.push([tail, r.zone ? `${r.zone_number}: ${len(r.effective_distance_m)}, ${club(r.next_club)}` : `${len(r.effective_distance_m)}, ${club(r.club)}`, css ? "t-zone" : ""]);
    });
    D.pins.forEach((p) => {
      const on = p.pin === S.pin;
      g.append(draw("circle", { cx: p.at[0], cy: p.at[1], r: (on ? 6 : 4) * k, class: on ? "o-pin on" : "o-pin", "stroke-width": 1.2 * k }));
    });
    const judged = drawn.length ? landing(drawn[0]).misses.filter((m) => m.verdict) : [];
    judged.forEach((m) => {
      const dead = m.verdict === "dead", d = dead ? "M-5,-5 5,5M-5,5 5,-5" : "M-5,0a5,5 0 1 0 10,0a5,5 0 1 0 -10,0";
      g.append(draw("path", { class: dead ? "o-dead" : "o-play", transform: `translate(${m.at.join(" ")}) scale(${k})`, d }));
    });
    const { write } = words(g, D.inset, k);
    D.pins.forEach((p) => write(p.at, p.pin, p.pin === S.pin ? "t-zone" : "", 12, 9));
    labels.forEach(([tail, text, css]) => write(tail, text, css, 12, 4));
    judged.forEach((m) => write(m.at, `${m.pct} % ${m.quarter}, ${m.verdict}`, m.verdict === "dead" ? "t-carry" : "t-play", 12, 8));
  }

  function shade(under) {
    const box = at("scale"), m = D.maps[S.shade];
    box.hidden = true;
    look = () => {};
    if (S.shade === "setbacks") return setbacks(under, box);
    if (!m) return;
    const item = m.items.find((i) => KEYS.every((k) => !i[k] || i[k] === S[k]));
    box.hidden = false;
    if (!item) { box.textContent = "No map for this choice."; return; }
    under.append(draw("image", { href: item.src, width: item.w, height: item.h, transform: item.t, class: "o-map", preserveAspectRatio: "none" }));
    const bar = make("i", { "aria-hidden": "true" });
    bar.style.background = `linear-gradient(to right, ${m.stops.join()})`;
    const unit = m.unit ? " " + m.unit : "";
    box.replaceChildren(make("span", {}, m.text + ":"), make("span", {}, m.low + unit), bar, make("span", {}, m.high + unit), make("output", { id: "here" }));
    read(item, m, unit);
  }

  function setbacks(under, box) {
    const asked = rows("setbacks"), near = rows("setback_conflicts");
    D.setbacks.forEach((s) => {
      const r = asked[s.row];
      shape(under, s, "o-back", r.rule + (r.clear_distance_m === null ? "" : `: ${len(r.clear_distance_m)} asked`));
    });
    D.conflicts.forEach((s) => {
      const r = near[s.row];
      shape(under, s, "o-near", `${r.feature} to ${r.other}: ${len(r.separation_m)}, asked ${len(r.clear_distance_m)}`);
    });
    box.hidden = false;
    box.replaceChildren(make("span", {}, `Clear distances asked for (${D.setbacks.length} rules, shaded), and the ${D.conflicts.length} places that are nearer (red). Guidance only.`));
  }

  /* the value under the pointer, read back from the colour of the map */
  let look = () => {};
  function read(item, m, unit) {
    const picture = new Image(), canvas = make("canvas");
    const pen = canvas.getContext("2d", { willReadFrequently: true });
    const codes = new Map(m.stops.map((c, i) => [parseInt(c.slice(1), 16), i]));
    const [a, b, c, d, e, f] = item.t.slice(7, -1).split(" ").map(Number);
    look = () => {};
    picture.onload = () => {
      canvas.width = picture.width; canvas.height = picture.height;
      pen.drawImage(picture, 0, 0);
      look = (x, y) => {
        const det = a * d - b * c, px = (d * (x - e) - c * (y - f)) / det, py = (a * (y - f) - b * (x - e)) / det;
        const i = Math.floor((px / item.w) * picture.width), j = Math.floor((py / item.h) * picture.height);
        const q = i >= 0 && j >= 0 && i < picture.width && j < picture.height ? pen.getImageData(i, j, 1, 1).data : [0, 0, 0, 0];
        const step = q[3] ? codes.get((q[0] << 16) | (q[1] << 8) | q[2]) : undefined;
        const value = step === undefined ? null : m.low + ((m.high - m.low) * step) / (m.stops.length - 1);
        at("here").textContent = value === null ? "" : `under the pointer about ${value.toFixed(m.high > 20 ? 0 : 1)}${unit}`;
      };
    };
    picture.src = item.src;
  }
  const svg = at("over").ownerSVGElement;
  narrow.addEventListener("change", () => plan());
  ["pointermove", "pointerdown"].forEach((kind) => svg.addEventListener(kind, (ev) => {
    const p = new DOMPoint(ev.clientX, ev.clientY).matrixTransform(at("over").getScreenCTM().inverse());
    look(p.x, p.y);
  }));

  /* ---- sections and widths ---- */
  let W = 1150; // width of a chart, in units of its text
  const chart = (height, title, desc) => {
    const s = draw("svg", { viewBox: `0 0 ${W} ${height}`, role: "img", "font-size": 13 });
    s.append(draw("title", {}, title), draw("desc", {}, desc));
    return s;
  };
  const scale = (lo, hi, a, b) => (v) => a + ((v - lo) / (hi - lo || 1)) * (b - a);
  const nice = (range, n) => {
    const raw = range / n, p = 10 ** Math.floor(Math.log10(raw || 1));
    return p * ([1, 2, 5, 10].find((k) => k * p >= raw) || 10);
  };
  const ticks = (lo, hi, step) => {
    const out = [];
    for (let v = Math.ceil(lo / step - 1e-9) * step; v <= hi + 1e-9; v += step) out.push(v);
    return out;
  };
  const path = (xs, ys, X, Y) => xs.map((x, i) => (ys[i] === null ? null : `${X(x).toFixed(1)},${Y(ys[i]).toFixed(1)}`)).filter(Boolean).join(" ");
  const stationAxis = (s, X, hi, y, from) => {
    const k = S.units === "yd" ? YARD : 1;
    ticks(0, hi / k, 50).forEach((v) => {
      s.append(draw("line", { x1: X(v * k), x2: X(v * k), y1: 8, y2: y, class: "c-grid" }));
      s.append(draw("text", { x: X(v * k), y: y + 17, "text-anchor": "middle", class: "c-axis" }, String(v)));
    });
    s.append(draw("text", { x: W - 2, y: y + 34, "text-anchor": "end", class: "c-axis" }, `${S.units} from ${from}`));
  };

  /* what the line crosses, drawn along the ground and named */
  function over(s, p, X, Y, top) {
    const ends = [];
    const level = (v) => {
      const i = Math.max(1, p.s.findIndex((q) => q >= v)), a = p.z[i - 1], b = p.z[i];
      return a === null || b === null ? null : a + ((b - a) * (v - p.s[i - 1])) / (p.s[i] - p.s[i - 1] || 1);
    };
    (p.crossed || []).forEach((c) => {
      const inside = p.s.filter((v) => v > c.a && v < c.b), at = [c.a, ...inside, c.b];
      const points = at.map((v) => [X(v), level(v)]).filter((q) => q[1] !== null).map((q) => `${q[0].toFixed(1)},${Y(q[1]).toFixed(1)}`);
      if (points.length < 2) return;
      const line = draw("path", { class: "c-over c-" + c.layer, d: "M" + points.join(" ") });
      line.append(draw("title", {}, `${c.text}: ${len(c.a)} to ${len(c.b)}`));
      s.append(line);
      if (c.layer === "tees" || c.layer === "paths") return;
      const x = X((c.a + c.b) / 2), half = c.text.length * 3.4 + 6;
      const row = [0, 1, 2].find((k) => !ends.some((e) => e.row === k && x - half < e.to && x + half > e.from));
      if (row === undefined) return;
      ends.push({ row, from: x - half, to: x + half });
      const under = p.z.filter((v, i) => v !== null && Math.abs(X(p.s[i]) - x) < half);
      const ys = at.map(level).filter((v) => v !== null).concat(under), y = Math.max(13, Y(Math.max(...ys)) - 9 - 15 * row);
      s.append(draw("text", { x: Math.min(x, W - half), y, "text-anchor": "middle", class: "halo t-small" }, c.text));
    });
  }

  function profile(box, p, title, height = 190) {
    const zs = p.z.filter((v) => v !== null).concat((p.sight || []).filter((v) => v !== null), p.top ? p.top.filter((v) => v !== null) : []);
    if (!zs.length) return false;
    const end = p.s[p.s.length - 1];
    const lo = Math.min(...zs), hi = Math.max(...zs), [per, unit] = S.units === "yd" ? [FOOT, "ft"] : [1, "m"];
    const step = nice(Math.max(hi - lo, 1) / per, 4) * per;
    const base = Math.floor(lo / step) * step, top = Math.max(hi + (p.crossed && p.crossed.length ? 0.9 : 0.15) * step, base + step);
    const off = p.x0 || 0, fitting = p.x0 !== undefined && end <= PX - off;
    const X = fitting ? (v) => ((v + off - D.view[0]) / PX) * W : scale(0, end, 48, W - 24);
    const bottom = height - 40, Y = scale(base, top, bottom, 14);
    const steep = (Math.abs(Y(base + 1) - Y(base)) / Math.abs(X(1) - X(0))).toFixed(0);
    const s = chart(height, title, `Ground levels from ${rise(lo)} to ${rise(hi)} over ${len(end)}, vertical exaggeration x${steep}.`);
    stationAxis(s, X, end, bottom, p.kind === "line" ? `the ${S.tee} tee` : "where the ball lies");
    s.append(draw("path", { class: "c-ground", d: `M${X(0)},${bottom} L${path(p.s, p.z, X, Y)} L${X(end)},${bottom}Z` }));
    p.s.forEach((v, i) => { if (p.top[i] !== null && p.z[i] !== null) s.append(draw("line", { x1: X(v), x2: X(v), y1: Y(p.z[i]), y2: Y(p.top[i]), class: "c-thing" })); });
    ticks(base, top, step).forEach((v) => {
      s.append(draw("line", { x1: X(0), x2: X(end), y1: Y(v), y2: Y(v), class: "c-grid" }));
      s.append(draw("text", { x: X(0) - 7, y: Y(v) + 4, "text-anchor": "end", class: "c-axis" }, `${+(v / per).toFixed(2)} ${unit}`));
    });
    if (p.sight && p.sight.some((v) => v !== null)) s.append(draw("path", { class: "c-sight" + (p.seen === false ? " no" : ""), d: "M" + path(p.s, p.sight, X, Y) }));
    over(s, p, X, Y, top);
    const fig = make("figure");
    fig.append(s, make("figcaption", {}, `${title}. Vertical exaggeration x${steep}.` + (p.note ? " " + p.note : "")));
    box.append(fig);
    return true;
  }

  function sections() {
    const long = at("long"), sights = at("sights");
    long.replaceChildren(); sights.replaceChildren();
    const tee = D.tees.find((t) => t.tee === S.tee);
    const main = D.profiles.find((p) => p.kind === "line" && fits(p));
    if (main) profile(long, { ...main, x0: tee && !main.bent ? tee.at[0] : undefined }, `Long section along the line of play, ${S.tee} tee`);
    else long.append(none("Not computed: " + (D.reasons.sections || "no section.")));
    const to = target();
    const one = D.profiles.find((p) => p.kind === "approach" && fits(p) && p.zone_at === (to || ""));
    if (!one) return sights.append(none("No approach section: " + (to || !D.profiles.length ? D.reasons.sections : D.zones.length ? "no zone is in reach for this choice." : "from the tee it is the long section above.")));
    const seen = one.room === null ? "" : one.room < 0 ? `The line to the flag is blocked by ${rise(-one.room)}.` : `The line to the flag clears the ground by ${rise(one.room)} at least.`;
    W = 620;
    profile(sights, { ...one, seen: one.room === null || one.room >= 0, note: seen }, `From ${to ? "the middle of " + to : "the " + S.tee + " tee"} to the ${S.pin} hole location`, 200);
    W = 1150;
    rooms(sights);
  }

  /* what is under the line of sight from every zone to every hole location */
  function rooms(box) {
    const list = D.profiles.filter((p) => p.kind === "approach" && p.room !== null && (!p.tee || p.tee === S.tee));
    const pins = [...new Set(list.map((p) => p.pin))], zones = [...new Set(list.map((p) => p.zone_at))];
    if (!list.length) return;
    const el = make("table"), head = el.createTHead().insertRow(), body = el.createTBody();
    el.append(make("caption", {}, "Line of sight to the flag from the middle of each zone: clear of the ground by, or blocked by"));
    head.append(make("th", { scope: "col", class: "words" }, "From"));
    pins.forEach((p) => head.append(make("th", { scope: "col" }, p)));
    zones.forEach((z) => {
      const tr = body.insertRow();
      tr.append(make("th", { scope: "row" }, z || S.tee + " tee"));
      pins.forEach((p) => {
        const one = list.find((i) => i.zone_at === z && i.pin === p), td = tr.insertCell();
        if (!one) return td.append("–");
        if (one.room < 0) td.classList.add("blocked");
        td.append(`${one.room < 0 ? "blocked" : "clear"} ${rise(Math.abs(one.room))}`);
      });
    });
    const wide = make("div", { class: "wide" });
    wide.append(el);
    box.append(wide);
  }

  function widths() {
    const box = at("widths");
    box.replaceChildren();
    const w = D.widths.find((i) => fits(i));
    if (!w) return box.append(none("Not computed: " + (D.reasons.corridors || "no widths for this tee.")));
    const tee = D.tees.find((t) => t.tee === S.tee), end = w.s[w.s.length - 1];
    const off = tee ? tee.at[0] : 0;
    const X = !w.bent && end <= PX - off ? (v) => ((v + off - D.view[0]) / PX) * W : scale(0, end, 48, W - 24);
    const most = Math.max(20, ...w.left.concat(w.right).filter((v) => v !== null).map(Math.abs));
    const H = 190, mid = 78, Y = scale(-most, most, mid - 62, mid + 62), k = S.units === "yd" ? YARD : 1;
    const f = w.told;
    const words = f.widest === undefined ? "The line of play does not meet fairway." :
      "Fairway to the left (above the line) and to the right of play." +
      (f.narrow !== undefined ? ` Narrowest ${len(f.narrow)}, at ${len(f.narrow_at)}; widest` : " Widest") + ` ${len(f.widest)}.` +
      (f.lost !== undefined ? ` Hazards take ${len(f.lost, 1)} of it at ${len(f.lost_at)} and leave ${len(f.left_over)}.` : "");
    const s = chart(H, "Width of the fairway to either side of the line of play", words);
    stationAxis(s, X, end, 150, `the ${S.tee} tee`);
    const have = w.s.map((v, i) => i).filter((i) => w.left[i] !== null && w.right[i] !== null);
    [-1, 0, 1].forEach((side) => {
      const v = side * Math.floor(most / k / 10) * 10 * k;
      s.append(draw("line", { x1: X(0), x2: X(end), y1: Y(v), y2: Y(v), class: side ? "c-grid" : "c-play" }));
      s.append(draw("text", { x: X(0) - 7, y: Y(v) + 4, "text-anchor": "end", class: "c-axis" }, Math.round(Math.abs(v) / k) + " " + S.units));
    });
    let run = [];
    const flush = () => {
      if (run.length > 1) s.append(draw("path", { class: "c-width", d: "M" + run.map((i) => `${X(w.s[i])},${Y(-w.left[i])}`).join(" ") + " L" + run.slice().reverse().map((i) => `${X(w.s[i])},${Y(w.right[i])}`).join(" ") + "Z" }));
      run = [];
    };
    have.forEach((i) => { if (run.length && run[run.length - 1] !== i - 1) flush(); run.push(i); });
    flush();
    (w.marks || []).filter((m) => !m.player || m.player === S.player).forEach((m) => {
      s.append(draw("line", { x1: X(m.s), x2: X(m.s), y1: 12, y2: 150, class: "c-land" }));
      s.append(draw("text", { x: X(m.s) + 4, y: 146, class: "halo t-small" }, m.text));
    });
    box.append(s, make("figcaption", {}, words));
  }

  /* ---- where to play: zones by hole locations, shot after shot ---- */
  const ORDINALS = ["", "Tee shot", "Second shot", "Third shot"];
  const cardsOf = (shot, from) => rows("where_to_play").filter((r) => fits(r, "pin") && r.shot_number === shot && r.from_zone === from);
  const atPin = (list) => list.filter((r) => r.pin === S.pin).sort((a, b) => a.rank - b.rank);
  const pinButton = (p, turn) => {
    const press = make("button", { type: "button", "aria-pressed": p === S.pin }, p + (turn ? " *" : ""));
    if (turn) press.title = "here the order of the zones turns";
    press.addEventListener("click", () => choose("pin", p));
    return press;
  };

  function ranking(list, caption) {
    const pins = [...new Set(list.map((r) => r.pin))];
    const zones = [...new Map(list.map((r) => [r.zone, r])).values()].sort((a, b) => (a.zone_number || 99) - (b.zone_number || 99));
    const el = make("table", { class: "matrix" }), head = el.createTHead().insertRow(), body = el.createTBody();
    el.append(make("caption", {}, caption));
    head.append(make("th", { scope: "col", class: "words" }, "Zone"));
    pins.forEach((p) => {
      const th = make("th", { scope: "col" });
      th.append(pinButton(p, list.some((r) => r.pin === p && r.order_changes)));
      head.append(th);
    });
    zones.forEach((z) => {
      const tr = body.insertRow();
      tr.append(make("th", { scope: "row", class: "words" }, z.zone_number ? `${z.zone_number} ${z.zone}` : "the " + z.zone));
      pins.forEach((p) => {
        const r = list.find((i) => i.zone === z.zone && i.pin === p), td = tr.insertCell();
        if (p === S.pin) td.classList.add("chosen");
        if (!r) return td.append("out of reach");
        if (r.level_with_first || r.rank === 1) td.classList.add("best");
        td.append(make("b", {}, r.level_with_first ? "= " : r.rank + " "));
        td.append(fixed(r.total_strokes, 2), make("small", {}, `next shot ${r.remaining_rank}` + (r.flag_visibility ? ", " + r.flag_visibility : "")));
        if (r.effective_distance_m !== null) td.append(make("small", {}, `${len(r.effective_distance_m)}, ${club(r.next_club)}`));
      });
    });
    return el;
  }

  const share = (v) => (v === null ? "–" : fixed(v) + " %");

  /* a hole without landing zones: a line for each hole location */
  function teeShots(list, caption) {
    const el = make("table", { class: "matrix" }), head = el.createTHead().insertRow(), body = el.createTBody();
    el.append(make("caption", {}, caption));
    ["Hole location", "Club", "Length", "Plays", "Holds the green", "Flag", "Sand, water, trees", "Score"].forEach((t) => head.append(make("th", { scope: "col", class: "words" }, t)));
    list.forEach((r) => {
      const tr = body.insertRow(), th = make("th", { scope: "row", class: "words" });
      th.append(pinButton(r.pin, false));
      tr.append(th);
      if (r.pin === S.pin) tr.className = "best";
      [club(r.club), len(r.pin_distance_m), r.effective_distance_m === null ? "out of reach" : len(r.effective_distance_m), share(r.hold_pct), r.flag_visibility, share(r.trouble_pct), fixed(r.total_strokes, 2)].forEach((t) => tr.insertCell().append(t));
    });
    return el;
  }

  /* the rankings on the way to the zone played to and on from there by first choices */
  function way() {
    const list = [{ shot: 1, from: "", list: cardsOf(1, "") }];
    for (let from = target(), shot = 2; from; shot++) {
      const next = cardsOf(shot, from);
      if (!atPin(next).length) break;
      list.push({ shot, from, list: next });
      from = atPin(next)[0].zone;
    }
    return list;
  }

  function matrix() {
    const box = at("matrix"), cards = at("cards"), list = cardsOf(1, "");
    box.replaceChildren(); cards.replaceChildren();
    if (!list.length) {
      const why = D.tables.where_to_play ? "no zone is in reach for this choice." : ended(D.reasons.where_to_play || "the step has not run");
      return box.append(none("No ranking: " + why));
    }
    const who = [S.player, S.tee && S.tee + " tee", S.wind].filter(Boolean).join(", ");
    way().forEach((w) => {
      const wide = make("div", { class: "wide" }), ordinal = ORDINALS[w.shot] || "Shot " + w.shot;
      if (!list[0].zone) wide.append(teeShots(list, who + ". The tee shot at each hole location."));
      else if (w.shot === 1) wide.append(ranking(w.list, `${who}. Rank, expected score, rank of the next shot, the flag, that shot by the distance it plays. Equals: level with the best, within ${D.band} strokes. Star: here the order turns.`));
      else wide.append(ranking(w.list, `${ordinal} from ${w.from}: rank, strokes from there, rank of the next shot, the flag, that shot by the distance it plays.`));
      box.append(wide);
      const ul = make("ul", { class: "reading" });
      atPin(w.list).forEach((r) => {
        const [, rank, rest] = (S.units === "yd" ? r.reading_yd : r.reading).match(/^(.*?)([;.](?: .*)?)$/), li = make("li");
        li.append(make("strong", {}, rank), rest);
        ul.append(li);
      });
      cards.append(make("h3", {}, w.shot === 1 ? `Because, at ${S.pin}` : `${ordinal} from ${w.from}`), ul);
    });
    const table = firstZones();
    if (table) box.append(table);
  }

  /* who is asked what at the chosen hole location: a line for each player and tee, a column for each wind */
  function firstZones() {
    const list = rows("where_to_play").filter((r) => r.pin === S.pin && r.shot_number === 1);
    const winds = [...new Set(list.map((r) => r.wind))], who = [...new Set(list.map((r) => `${r.player}, ${r.tee} tee`))];
    if (winds.length * who.length < 2) return null;
    const el = make("table", { class: "first-zones" }), head = el.createTHead().insertRow(), body = el.createTBody();
    const cell = list[0].zone ? "number of the first zone, expected score" : "club, shots that hold the green, expected score";
    el.append(make("caption", {}, `Every player, tee and wind at ${S.pin}: ${cell}.`));
    ["Player, tee", ...winds].forEach((t) => head.append(make("th", { scope: "col", class: "words" }, t)));
    who.forEach((w) => {
      const tr = body.insertRow();
      tr.append(make("th", { scope: "row", class: "words" }, w));
      winds.forEach((wind) => {
        const here = list.filter((r) => r.wind === wind && `${r.player}, ${r.tee} tee` === w), best = here.filter((r) => r.level_with_first || r.rank === 1);
        const td = tr.insertCell();
        if (wind === S.wind && w === `${S.player}, ${S.tee} tee`) td.className = "best";
        if (!best.length) return td.append("–");
        const first = best[0].zone ? best.map((r) => r.zone_number).sort((a, b) => a - b).join(" = ") : `${club(best[0].club)}, ${share(best[0].hold_pct)}`;
        td.append(first + ": " + fixed(Math.min(...best.map((r) => r.total_strokes)), 2));
      });
    });
    const wide = make("div", { class: "wide" });
    wide.append(el);
    return wide;
  }

  /* ---- the words above ---- */
  function first() {
    return atPin(cardsOf(1, ""))[0] || null;
  }

  const target = () => S.zone || (first() || {}).zone;

  function said() {
    const box = at("said"), b = first(), t = D.tables.where_to_play;
    const who = [S.tee && S.tee + " tee", S.player, S.wind, S.pin && S.pin + " hole location"].filter(Boolean).join(", ");
    box.replaceChildren(make("strong", {}, who + ". "));
    const level = cardsOf(1, "").filter((r) => r.pin === S.pin && r.level_with_first).map((r) => r.zone);
    if (level.length > 1) box.append(`Level: ${level.join(" and ")}, ${fixed(b.total_strokes, 2)} strokes in all.`);
    else if (b && b.zone) box.append(`First choice: ${b.zone}, ${fixed(b.total_strokes, 2)} strokes in all.`);
    else if (D.tables.zones && !D.zones.length) box.append("This hole has no landing zones: the tee shot plays to the green.");
    else if (S.pin) box.append("No ranking: " + (t && t.rows.length ? "no zone is in reach for this choice." : ended(D.reasons.where_to_play || "the step has not run")));
    const whole = rows("choices").find((r) => fits(r));
    if (whole && whole.reading) box.append(" " + sentence(whole.reading));
  }

  const ended = (s) => s + (/[.!?]$/.test(s) ? "" : ".");
  const sentence = (s) => s.charAt(0).toUpperCase() + ended(s).slice(1);

  function facts() {
    const dl = at("facts");
    dl.replaceChildren();
    D.facts.filter((f) => f.text === undefined || fits(f)).forEach((f) => {
      const div = make("div");
      div.append(make("dt", {}, f.word), make("dd", {}, f.m !== undefined ? len(f.m) : f.text));
      dl.append(div);
    });
  }

  /* contours keep the interval they were drawn at: the captions say it in the chosen unit */
  function contours() {
    document.querySelectorAll("[data-contours]").forEach((e) => {
      const m = +e.dataset.contours;
      e.textContent = S.units === "yd" ? +(m / FOOT).toFixed(2) + " ft" : +m.toFixed(3) + " m";
    });
  }

  function show() {
    contours();
    facts(); said(); matrix(); plan(); inset(); sections(); widths();
    document.querySelectorAll("[data-table]").forEach(table);
    scrolling();
  }

  /* what scrolls sideways is reached by keyboard and says what it is; what does not is no stop on the way */
  function scrolling() {
    document.querySelectorAll(".wide").forEach((e) => {
      const scrolls = e.scrollWidth > e.clientWidth, said = e.querySelector("caption, title");
      if (scrolls && !e.hasAttribute("aria-label")) e.setAttribute("aria-label", said ? said.textContent : "Scrolls sideways");
      ["tabindex", "role"].forEach((k, i) => (scrolls ? e.setAttribute(k, ["0", "region"][i]) : e.removeAttribute(k)));
      if (!scrolls) e.removeAttribute("aria-label");
    });
  }

  /* ---- the choice: in the form, and in the address of the page ---- */
  const selects = [...document.querySelectorAll("form.choose select")];
  function choose(name, value) {
    const s = selects.find((i) => i.name === name);
    if (!s || ![...s.options].some((o) => o.value === value)) return;
    s.value = value;
    S[name] = value;
    const said = new URLSearchParams(selects.filter((i) => i.value !== i.options[0].value).map((i) => [i.name, i.value]));
    history.replaceState(null, "", "#" + said);
    show();
  }
  selects.forEach((s) => {
    S[s.name] = s.value;
    s.addEventListener("change", () => choose(s.name, s.value));
  });
  new URLSearchParams(location.hash.slice(1)).forEach((value, name) => {
    const s = selects.find((i) => i.name === name);
    if (s && [...s.options].some((o) => o.value === value)) { s.value = value; S[name] = value; }
  });
  /* paper shows everything */
  addEventListener("resize", scrolling);
  document.querySelectorAll("details").forEach((d) => d.addEventListener("toggle", scrolling));
  let closed = [];
  addEventListener("beforeprint", () => {
    closed = [...document.querySelectorAll("details:not([open])")];
    closed.forEach((d) => { d.open = true; });
  });
  addEventListener("afterprint", () => closed.forEach((d) => { d.open = false; }));
  show();
  document.documentElement.dataset.ready = "yes";
})();
