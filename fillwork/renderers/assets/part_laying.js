// Where a laid cell lies: the pattern is dragged about under the panel's frame.

import { button, choice, element, field, rebuild } from "./dom.js";
import { numberField } from "./numbers.js";
import { LINE_FILES, fold, lengthOf, round, selector, sizeOf } from "./part_drawing.js";
import { text } from "./text.js";

const SNAP = 14; // px to a good place
const THIN = 5; // mm
const NO_BORDER = {
  border: null, border_cell: null, border_width_mm: null, corner: null, corner_mm: null, lines_outside_mm: null, lines_inside_mm: null,
};
const MOST = 4000; // repeats drawn; more would be a grey field

/** Fill the part of the page that lays one cell over a panel. */
export function layingPart(app, part) {
  const box = element("div", { class: "laying" });
  part.append(box);
  let shown = "";
  app.on("opened", () => {
    shown = "";
    rebuild(box);
  });
  app.on("plan", async () => {
    const { laying = {}, lines, drawing, symmetry } = app.plan.plan;
    const key = JSON.stringify([app.sheet, laying, lines, drawing, symmetry]);
    if (key === shown) return;
    shown = key;
    const on = Boolean(laying.over_mm || laying.outline);
    const laid = on ? await app.attempt(() => app.get("laying")) : null;
    if (key !== shown) return;
    const body = laid ? placing(app, laid, laying) : asking(app, laying);
    rebuild(box, fold(text.laying, body, on));
  });
}

/** What must be said before a cell is laid: the panel, how it goes on, its guide lines, its border. */
function asking(app, laying) {
  const over = laying.over_mm?.map(round).join(" × ");
  const size = element("input", { type: "text", value: over ? `${over} mm` : "", placeholder: "600 × 900 mm", data: { key: "over" } });
  const guides = guideLines(app, laying);
  const ways = goingOn(app, laying);
  let cell = guides.now;
  const border = borderFields(app, laying);
  const lay = async () => {
    const over_mm = sizeOf(size.value);
    if (!over_mm) return app.say(text.noSize(size.value), true);
    const chosen = cell ? [cell] : null;
    const way = ways.settings();
    const round_it = way && (way.by === "border" ? NO_BORDER : await border.settings(chosen ?? []));
    if (!round_it) return undefined;
    const settings = { over_mm, by: way.by, cell: chosen, place: null, place_at: null, ...round_it };
    return app.change({ laying: settings, symmetry: { group: way.group } }, text.laying);
  };
  return element(
    "div",
    {},
    element("p", { class: "small" }, text.layingHint),
    field(text.over, size),
    ways.box,
    field(text.guide, choice(guides.all, cell, (value) => (cell = value), { data: { key: "cell" } })),
    border.box,
    button(text.layIt, lay, { class: "main", data: { key: "lay" } }),
  );
}

/** How the cell goes on; a sector goes on round a middle, as the rosette that is stated. */
function goingOn(app, laying) {
  const { group = null } = app.plan.plan.symmetry ?? {};
  const [, letter, order] = /^rosette:([CD])(\d+)$/.exec(group ?? "") ?? [];
  let by = laying.over_mm && letter ? letter : (laying.by ?? "");
  const count = element("input", { type: "number", min: "2", max: "400", step: "1", value: order ?? "", data: { key: "sectors" } });
  const counted = field(text.sectors, count);
  const show = () => (counted.hidden = !["C", "D"].includes(by));
  const pick = choice(Object.entries(text.ways), by, (value) => {
    by = value;
    show();
  }, { data: { key: "by" } });
  show();
  const settings = () => {
    if (counted.hidden) return { by: by || null, group: letter ? null : group };
    const n = Number(count.value);
    return n >= 2 && n % 1 === 0 ? { by: null, group: `rosette:${by}${n}` } : app.say(text.noSectors, true);
  };
  return { settings, box: element("div", {}, field(text.goesOn, pick), counted) };
}

/** The groups of lines that may bound the cell, and the one that most likely does. */
function guideLines(app, laying) {
  const groups = app.drawing?.line_groups ?? [];
  const named = new Map(groups.map((group) => [selector(group), text.lineGroup(group)]));
  for (const colour of app.drawing?.other_pens ?? []) named.set(`colour=${colour}`, text.otherPen(colour));
  const set = laying.cell?.[0];
  if (set && !named.has(set)) named.set(set, set);
  // a pattern that shows its repeats needs no guide lines
  const repeats = app.drawing?.zones.some((zone) => zone.certain && ["plane", "frieze"].includes(zone.family));
  const likely = repeats ? [] : groups.filter((group) => group.guide || !group.used);
  const now = laying.over_mm ? (set ?? "") : likely.length === 1 ? selector(likely[0]) : "";
  return { all: [["", text.noGuide], ...named], now };
}

/** What runs round the field, and the settings that say so. */
function borderFields(app, laying) {
  const families = new Set((app.drawing?.zones ?? []).filter((zone) => zone.certain).map((zone) => zone.family));
  const strip = laying.border && laying.border !== "rest";
  const own = laying.over_mm ? !laying.cell : families.has("plane") && families.has("frieze");
  let now = strip ? "keep" : (laying.border ?? (laying.border_width_mm ? "width" : ""));
  const file = element("input", { type: "file", accept: LINE_FILES, data: { key: "strip" } });
  const wide = element("input", {
    type: "text", value: laying.border_width_mm ? `${round(laying.border_width_mm)} mm` : "", placeholder: "40 mm", data: { key: "border-width" },
  });
  const fields = { file: field(text.strip, file, text.stripHint), width: field(text.borderWidth, wide) };
  const show = () => Object.entries(fields).forEach(([name, one]) => (one.hidden = name !== now));
  const offered = Object.entries(text.borders).filter(([name]) => (name !== "own" || own) && (name !== "keep" || strip));
  const pick = choice(offered, now, (value) => {
    now = value;
    show();
  }, { data: { key: "border" } });
  show();
  const run = async (cell) => {
    const query = new URLSearchParams(cell.map((one) => ["cell", one]));
    if (now === "own") query.set("own", "yes");
    const path = `${app.sheet}/strip?${query}`;
    const found = await app.attempt(() => (now === "own" ? app.service.post(path) : app.service.send(path, file.files[0])));
    return found && { ...NO_BORDER, ...found };
  };
  const settings = (cell) => {
    if (now === "keep") return {};
    if (now === "own") return run(cell);
    if (now === "file") return file.files[0] ? run(cell) : app.say(text.noStrip, true);
    if (now === "rest") return { ...NO_BORDER, border: "rest" };
    if (now !== "width") return NO_BORDER;
    const border_width_mm = lengthOf(wide.value);
    return border_width_mm > 0 ? { ...NO_BORDER, border_width_mm } : app.say(text.noLength(wide.value), true);
  };
  return { settings, box: element("div", {}, field(text.roundIt, pick), ...Object.values(fields)) };
}

/** The panel with the pattern under it, the good places, and what may give. */
function placing(app, laid, laying) {
  const words = element("p", { class: "small", "aria-live": "polite" });
  const take = (place) => app.change({ laying: place }, text.placeIt);
  const moves = laid.motif.length > 0;
  const frame = moves ? new Frame(laid, words, laying.place ?? null, take) : null;
  const rows = laid.places.map((place) =>
    button(
      text.placeName(place.number, place.middle, place.smallest_piece_mm),
      () => take({ place: place.number, place_at: null }),
      { "aria-pressed": String(place.number === laid.place.number), data: { key: `place${place.number}` } },
    ),
  );
  const percent = { min: "0", max: "10", step: "any", data: { key: "give" }, hint: text.giveHint };
  const give = numberField(app, text.give, 100 * (laying.give ?? 0), percent, (value) => take({ give: value ? value / 100 : null }));
  return element(
    "div",
    {},
    moves ? element("p", { class: "small" }, text.dragHint) : null,
    frame?.canvas ?? null,
    words,
    element("div", { class: "places", role: "group", "aria-label": text.places }, ...rows),
    give,
    fold(text.asLaid, element("pre", {}, laid.words)),
    fold(text.layOther, asking(app, laying)),
    button(text.layNot, () => {
      const round = app.plan.plan.symmetry?.group?.startsWith("rosette:");
      return app.change({ laying: null, ...(round ? { symmetry: { group: null } } : {}) }, text.laying);
    }),
  );
}

/** A canvas on which the pattern moves under the panel's outline. */
class Frame {
  constructor(laid, words, base, take) {
    Object.assign(this, { laid, words, base, take });
    this.map = [...laid.place.map];
    this.near = laid.place.number;
    this.path = lines(laid.motif);
    this.border = lines(laid.border);
    this.edge = new Path2D();
    for (const ring of laid.rings) this.edge.addPath(outline(ring));
    this.box = span(laid.motif);
    this.boxes = laid.figures.map(span);
    this.canvas = element("canvas", {
      class: "frame", tabIndex: 0, role: "application", "aria-label": text.frame,
      onpointerdown: (event) => this.#grip(event),
      onkeydown: (event) => this.#key(event),
    });
    this.canvas.style.setProperty("--shape", laid.width / laid.height);
    new ResizeObserver(() => this.draw()).observe(this.canvas);
  }

  /** Shifts of the repeat on the panel. */
  get basis() {
    const [a, b, c, d] = this.map;
    return this.laid.basis.map(([x, y]) => [a * x + c * y, b * x + d * y]);
  }

  #grip(event) {
    if (event.button) return;
    const { canvas } = this;
    const from = [event.clientX, event.clientY];
    const [e, f] = this.map.slice(4);
    canvas.setPointerCapture(event.pointerId);
    event.preventDefault();
    canvas.focus();
    canvas.onpointermove = (now) =>
      this.moveTo(e + (now.clientX - from[0]) / this.px, f - (now.clientY - from[1]) / this.px);
    canvas.onpointerup = canvas.onpointercancel = () => {
      canvas.onpointermove = canvas.onpointerup = canvas.onpointercancel = null;
      if (this.map[4] !== e || this.map[5] !== f) this.lay();
    };
  }

  #key(event) {
    const step = event.shiftKey ? 10 : 1;
    const [x, y] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key] ?? [0, 0];
    if (event.key === "Enter") this.lay();
    else if (x || y) this.moveTo(this.map[4] + step * x, this.map[5] + step * y, 0);
    else return;
    event.preventDefault();
  }

  /** Move the pattern; near a good place it goes there. */
  moveTo(e, f, reach = SNAP / this.px) {
    this.near = 0;
    for (const place of this.laid.places) {
      if (place.map.slice(0, 4).some((v, k) => Math.abs(v - this.map[k]) > 1e-6)) continue;
      const [x, y] = this.#least(place.map[4] - e, place.map[5] - f);
      if (Math.hypot(x, y) > Math.max(reach, 1e-6)) continue;
      [e, f] = [e + x, f + y];
      this.near = place.number;
      break;
    }
    this.map[4] = e;
    this.map[5] = f;
    this.draw();
  }

  /** The shortest of the vectors that differ by shifts. */
  #least(x, y) {
    const { basis } = this;
    if (!basis.length) return [x, y];
    const n = whole(basis, x, y).map(Math.round);
    let best = [x, y];
    for (const i of [-1, 0, 1])
      for (const j of basis.length > 1 ? [-1, 0, 1] : [0]) {
        const at = shifted([x, y], basis, [-(n[0] + i), -((n[1] ?? 0) + j)]);
        if (Math.hypot(...at) < Math.hypot(...best)) best = at;
      }
    return best;
  }

  lay() {
    if (this.near) return this.take({ place: this.near, place_at: null });
    const [a, b, c, d, e, f] = this.map;
    const [x, y] = this.laid.cell_middle;
    const { width, height } = this.laid;
    const [p, q] = this.#least(a * x + c * y + e - width / 2, b * x + d * y + f - height / 2);
    const at = [p + width / 2, q + height / 2].map((v) => Number(v.toFixed(3)));
    return this.take({ place: this.base, place_at: at });
  }

  /** Shifts by which a box may meet the panel. */
  #shifts([left, low, right, top]) {
    const { basis, laid } = this;
    if (!basis.length) return [[0, 0]];
    const corners = [-right, laid.width - left].flatMap((x) => [-top, laid.height - low].map((y) => whole(basis, x, y)));
    const range = basis.map((_, k) => corners.map((n) => n[k])).map((v) => [Math.floor(Math.min(...v)), Math.ceil(Math.max(...v))]);
    const found = [];
    for (let i = range[0][0]; i <= range[0][1]; i += 1)
      for (let j = range[1]?.[0] ?? 0; j <= (range[1]?.[1] ?? 0); j += 1) {
        const [x, y] = shifted([0, 0], basis, [i, j]);
        if (left + x < laid.width && right + x > 0 && low + y < laid.height && top + y > 0) found.push([x, y]);
      }
    return found.slice(0, MOST);
  }

  draw() {
    const { canvas, laid, map } = this;
    const wide = canvas.clientWidth;
    if (!wide) return;
    const dots = window.devicePixelRatio || 1;
    this.px = wide / laid.width;
    canvas.width = Math.round(wide * dots);
    canvas.height = Math.round(canvas.width * (laid.height / laid.width));
    const ctx = canvas.getContext("2d");
    const scale = canvas.width / laid.width;
    ctx.setTransform(scale, 0, 0, -scale, 0, canvas.height);
    const thin = 0.8 / this.px;
    ctx.lineWidth = thin;
    ctx.stroke(this.border);
    ctx.save();
    ctx.clip(this.edge, "evenodd");
    const [cut, poor] = this.#cuts(ctx);
    ctx.lineWidth = thin / Math.hypot(map[0], map[1]);
    for (const [x, y] of this.#shifts(carried(this.box, map))) {
      ctx.save();
      ctx.transform(map[0], map[1], map[2], map[3], map[4] + x, map[5] + y);
      ctx.stroke(this.path);
      ctx.restore();
    }
    ctx.restore();
    ctx.lineWidth = 2 * thin;
    ctx.stroke(this.edge);
    const place = laid.places.find(({ number }) => number === this.near);
    this.words.textContent = text.lies(place, cut, laid.rectangle ? poor : null);
  }

  /** Fill what the edge cuts, darkest where too little is left. */
  #cuts(ctx) {
    const { laid, map } = this;
    const [left, low, right, top] = span(laid.rings[0]);
    let [cut, poor] = [0, 0];
    laid.figures.forEach((ring, k) => {
      const at = carriedRing(ring, map);
      const size = carried(this.boxes[k], map);
      for (const [x, y] of this.#shifts(size)) {
        const moved = at.map((v, n) => v + (n % 2 ? y : x));
        const rest = laid.rectangle ? clipped(moved, left, low, right, top) : moved;
        if (rest.length < 6) continue;
        const [x0, y0, x1, y1] = span(rest);
        const inside = laid.rectangle ? rest.length === moved.length && rest.every((v, n) => v === moved[n]) : this.#within(ctx, moved);
        if (inside || Math.min(x1 - x0, y1 - y0) < 1e-4) continue;
        cut += 1;
        const little = laid.rectangle && Math.min(x1 - x0, y1 - y0) < THIN - 1e-3;
        poor += little;
        ctx.fillStyle = little ? "#000" : "#ccc";
        ctx.fill(outline(rest));
      }
    });
    ctx.fillStyle = "#000";
    return [cut, poor];
  }

  #within(ctx, ring) {
    const scale = this.canvas.width / this.laid.width;
    const held = pairs(ring).map(([x, y]) =>
      ctx.isPointInPath(this.edge, x * scale, this.canvas.height - y * scale, "evenodd"),
    );
    return held.every(Boolean) || !held.some(Boolean);
  }
}

function pairs(flat) {
  return Array.from({ length: flat.length / 2 }, (_, k) => [flat[2 * k], flat[2 * k + 1]]);
}

function span(flat) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (let k = 0; k < flat.length; k += 2) {
    box[0] = Math.min(box[0], flat[k]);
    box[1] = Math.min(box[1], flat[k + 1]);
    box[2] = Math.max(box[2], flat[k]);
    box[3] = Math.max(box[3], flat[k + 1]);
  }
  return box;
}

function carriedRing(flat, [a, b, c, d, e, f]) {
  return pairs(flat).flatMap(([x, y]) => [a * x + c * y + e, b * x + d * y + f]);
}

function carried([left, low, right, top], map) {
  return span(carriedRing([left, low, right, low, right, top, left, top], map));
}

/** How many of each shift a vector is; of a strip, along it. */
function whole(basis, x, y) {
  const [[a, b], [c, d] = [-b, a]] = basis;
  const size = a * d - b * c;
  const n = [(x * d - y * c) / size, (a * y - b * x) / size];
  return n.slice(0, basis.length);
}

function shifted([x, y], basis, n) {
  return basis.reduce(([p, q], [a, b], k) => [p + n[k] * a, q + n[k] * b], [x, y]);
}

function outline(flat) {
  const path = new Path2D();
  pairs(flat).forEach(([x, y], k) => (k ? path.lineTo(x, y) : path.moveTo(x, y)));
  path.closePath();
  return path;
}

function lines(flat) {
  const path = new Path2D();
  for (let k = 0; k < flat.length; k += 4) {
    path.moveTo(flat[k], flat[k + 1]);
    path.lineTo(flat[k + 2], flat[k + 3]);
  }
  return path;
}

/** The part of a ring in a box, side by side (Sutherland and Hodgman 1974). */
function clipped(flat, left, low, right, top) {
  let ring = pairs(flat);
  for (const [axis, bound, sign] of [[0, left, 1], [0, right, -1], [1, low, 1], [1, top, -1]]) {
    const inside = (p) => sign * (p[axis] - bound) >= -1e-9;
    const next = [];
    ring.forEach((p, k) => {
      const q = ring[(k + 1) % ring.length];
      if (inside(p)) next.push(p);
      if (inside(p) === inside(q)) return;
      const t = (bound - p[axis]) / (q[axis] - p[axis]);
      next.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
    });
    ring = next;
  }
  return ring.flat();
}
