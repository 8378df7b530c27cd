// The drawing on its canvases: fills below, lines over them, marks on top.

import { dark, drawRepeat, greyOf, label, ring } from "./marks.js";
import { text } from "./text.js";

const IDS = 1600; // longer side of the canvas that tells regions apart, px
const SEAM = 0.7; // fills overlap by so much, so that no light shows between, px
const MANY = 250; // a kind of more regions is lit by a veil over the others
const NEARER = 4; // how many times nearer than the whole a kind is outlined again
const VEILS = 4; // so many veils are kept
const WHOLE = 0.7; // of the scale of the drawing alone: from there on a wide screen shows the whole page
const BATCH = 1500; // regions entered at once in the canvas that tells them apart

/** Shows a painting and tells which region is touched. */
export class Sight {
  constructor(box, events) {
    this.box = box;
    box.dataset.key = "sight";
    this.events = events;
    this.canvases = ["fills", "lines", "marks"].map((name) => {
      const canvas = document.createElement("canvas");
      canvas.className = name;
      box.append(canvas);
      return canvas;
    });
    [this.fills, this.lines, this.marks] = this.canvases.map((c) => c.getContext("2d"));
    this.show = { numbers: false, repeat: false, view: "normal", weakest: "short", defects: true };
    this.ringed = true; // whether places to look at may be ringed now
    this.lit = null; // the kind that is pointed at
    this.asked = []; // kinds that are asked about
    this.at = -1; // the region that the keyboard has come to
    this.place = { scale: 1, x: 0, y: 0 };
    this.#listen();
    new ResizeObserver(() => this.#resize()).observe(box);
  }

  /** Show another drawing. */
  load(painting) {
    const other = this.painting?.drawing !== painting.drawing;
    this.painting = painting;
    if (other) {
      this.at = -1;
      this.lit = null;
      this.asked = [];
      this.paths = new Map();
      this.groups = new Map();
      this.outline = null;
      this.ids = null;
      this.veils = new Map();
      this.fit();
      this.#prepareIds();
    } else this.refresh();
  }

  /** Draw everything again, after colours changed all over. */
  refresh() {
    this.groups?.clear();
    this.draw();
  }

  /** Draw only the kinds that some regions belong to. */
  repaint(regions) {
    const { kind } = this.painting.drawing;
    const kinds = new Set(regions.map((r) => kind[r]));
    for (const k of kinds) this.groups.delete(k);
    if (this.show.numbers) this.draw();
    else {
      for (const k of kinds) this.#fillKind(k);
      this.#drawMarks();
    }
  }

  fit() {
    const { box, width: across, height: down } = this.painting.drawing;
    const [w, h] = this.#size();
    const scaleOf = ([, , a, b]) =>
      Math.min((w - 48) / Math.max(a, 1e-9), (h - (w > 600 ? 60 : 36)) / Math.max(b, 1e-9));
    // a page whose edge shows on one side alone looks stray: the whole of it, if it is not much larger
    const page = [0, 0, across, down];
    const held = box[0] >= 0 && box[1] >= 0 && box[0] + box[2] <= across && box[1] + box[3] <= down;
    const shown = held && w > 600 && scaleOf(page) > WHOLE * scaleOf(box) ? page : box;
    this.bare = shown === box; // then paper goes on all round, and no edge of it shows
    const [left, top, width, height] = shown;
    const scale = scaleOf(shown);
    const safe = scale > 0 && Number.isFinite(scale) ? scale : 1;
    this.least = safe / 2;
    this.moved = false; // whether another place is seen than the whole
    this.place = {
      scale: safe,
      x: w / 2 - (left + width / 2) * safe,
      y: h / 2 - (top + height / 2) * safe,
    };
    this.draw();
  }

  /** Come closer about a point of the box, in px. */
  zoom(factor, x = this.#size()[0] / 2, y = this.#size()[1] / 2) {
    const old = this.place;
    const scale = Math.min(Math.max(old.scale * factor, this.least), this.least * 400);
    const k = scale / old.scale;
    this.#goOn({ scale, x: x - (x - old.x) * k, y: y - (y - old.y) * k });
  }

  /** Go to the nearest region on one side: within a right angle about that way. */
  step(dx, dy) {
    const { places } = this.painting.drawing;
    const { scale, x, y } = this.place;
    const [w, h] = this.#size();
    const [px, py] = this.at >= 0 ? places[this.at] : [(w / 2 - x) / scale, (h / 2 - y) / scale];
    let [best, least] = [-1, Infinity];
    for (const [region, [qx, qy]] of places.entries()) {
      const along = (qx - px) * dx + (qy - py) * dy;
      const aside = Math.abs((qx - px) * dy) + Math.abs((qy - py) * dx);
      const ahead = this.at < 0 || (along > 0 && aside <= along);
      const far = Math.abs(along) + 2 * aside; // what lies straight ahead comes first
      if (ahead && far < least) [best, least] = [region, far];
    }
    if (best < 0) return;
    this.at = best;
    this.events.hover?.(best);
    const [sx, sy] = [places[best][0] * scale + x, places[best][1] * scale + y];
    if (sx < 0 || sy < 0 || sx > w || sy > h) this.pan(w / 2 - sx, h / 2 - sy);
    else this.#drawMarks();
  }

  pan(dx, dy) {
    this.#goOn({ ...this.place, x: this.place.x + dx, y: this.place.y + dy });
  }

  /** Bring a place of the drawing to the middle, seen from near. */
  goTo([mx, my]) {
    const [w, h] = this.#size();
    const scale = Math.max(this.place.scale, this.least * 8);
    this.#goOn({ scale, x: w / 2 - mx * scale, y: h / 2 - my * scale });
  }

  /** The coloured drawing alone, cut to what is drawn, as a canvas so many px wide. */
  picture(most) {
    const [left, top, width, height] = this.painting.drawing.box;
    const margin = 0.01 * Math.max(width, height);
    const scale = most / (Math.max(width, height) + 2 * margin);
    const canvas = document.createElement("canvas");
    canvas.width = Math.ceil((width + 2 * margin) * scale);
    canvas.height = Math.ceil((height + 2 * margin) * scale);
    const kept = [this.place, this.fills, this.lines, this.ratio];
    const ctx = canvas.getContext("2d");
    this.place = { scale, x: (margin - left) * scale, y: (margin - top) * scale };
    [this.fills, this.lines, this.ratio] = [ctx, ctx, 1];
    this.#clear(ctx);
    for (const kind of this.painting.classes.kind.keys()) this.#fillKind(kind);
    this.#drawLines();
    if (this.show.numbers) this.#drawNumbers();
    [this.place, this.fills, this.lines, this.ratio] = kept;
    return canvas;
  }

  light(kind) {
    if (this.lit === kind) return;
    this.lit = kind;
    this.#drawMarks();
  }

  /** Mark the kinds that are asked about, wherever is pointed meanwhile. */
  ask(kinds) {
    this.asked = kinds;
    this.#drawMarks();
  }

  /** Show what a mending would take away, a path. */
  mend(path) {
    this.mended = path;
    this.#drawMarks();
  }

  ring(on) {
    this.ringed = on;
    this.#drawMarks();
  }

  draw() {
    if (!this.painting) return;
    this.waiting = false;
    this.#clear(this.fills);
    const { width, height } = this.painting.drawing;
    this.fills.fillStyle = "#fff";
    const { scale, x, y } = this.place;
    const [across, down] = this.#size().map((side) => side / scale);
    if (this.bare) this.fills.fillRect(-x / scale, -y / scale, across, down);
    else this.fills.fillRect(0, 0, width, height);
    for (const kind of this.painting.classes.kind.keys()) this.#fillKind(kind);
    this.#clear(this.lines);
    this.#drawLines();
    if (this.show.numbers) this.#drawNumbers();
    this.#drawMarks();
  }

  /** The region at a point of the box, or -1. */
  regionAt(x, y) {
    if (!this.painting) return -1;
    this.#prepareIds(Infinity);
    const { scale, x: left, y: top } = this.place;
    const [mx, my] = [(x - left) / scale, (y - top) / scale];
    const { at, width, height, per } = this.ids;
    const [cx, cy] = [Math.floor(mx * per), Math.floor(my * per)];
    const seen = new Set();
    for (const [dx, dy] of NEAR) {
      const [px, py] = [cx + dx, cy + dy];
      if (px < 0 || py < 0 || px >= width || py >= height) continue;
      const region = at[py * width + px] - 1;
      if (region < 0 || seen.has(region)) continue;
      seen.add(region);
      if (this.lines.isPointInPath(this.#path(region), ...this.#device(mx, my), "evenodd"))
        return region;
    }
    return -1;
  }

  #device(mx, my) {
    // the path is tested under the canvas's own transform
    const { scale, x, y } = this.place;
    const ratio = this.ratio;
    return [(mx * scale + x) * ratio, (my * scale + y) * ratio];
  }

  #path(region) {
    let path = this.paths.get(region);
    if (!path) {
      path = new Path2D(this.painting.drawing.shapes[region]);
      this.paths.set(region, path);
    }
    return path;
  }

  #fillKind(kind) {
    let groups = this.groups.get(kind);
    if (!groups) {
      const bySwatch = new Map();
      for (const r of this.painting.classes.kind.get(kind)) {
        const s = this.painting.swatch[r];
        if (!bySwatch.has(s)) bySwatch.set(s, []);
        bySwatch.get(s).push(this.painting.drawing.shapes[r]);
      }
      groups = [...bySwatch].map(([s, shapes]) => [s, new Path2D(shapes.join(""))]);
      this.groups.set(kind, groups);
    }
    const hexes = this.painting.colouring.palette.views[this.show.view];
    const ctx = this.fills;
    ctx.lineWidth = SEAM / this.place.scale;
    ctx.lineJoin = "bevel";
    for (const [s, path] of groups) {
      ctx.fillStyle = ctx.strokeStyle = hexes[s] ?? "#fff";
      ctx.fill(path, "evenodd");
      ctx.stroke(path);
    }
  }

  #drawLines() {
    const { colour, width } = this.painting.colouring.outline;
    if (!colour || !width) return;
    this.outline ??= new Path2D(this.painting.drawing.shapes.join("") + this.painting.drawing.open);
    this.lines.strokeStyle = this.show.view === "grey" ? greyOf(colour) : colour;
    this.lines.lineJoin = "miter";
    this.lines.miterLimit = 4;
    this.lines.lineWidth = Math.max(width, 0.5 / this.place.scale);
    this.lines.stroke(this.outline);
  }

  #drawNumbers() {
    const ctx = this.lines;
    const { scale } = this.place;
    const hexes = this.painting.colouring.palette.views[this.show.view];
    const { places } = this.painting.drawing;
    ctx.textAlign = "center";
    ctx.textBaseline = "middle";
    this.painting.swatch.forEach((s, r) => {
      const swatch = this.painting.swatches[s];
      if (!swatch) return;
      const [x, y, room] = places[r];
      const wide = Math.max(swatch.code.length * 0.6, 1);
      const size = Math.min(16, (room * scale * 1.5) / wide);
      if (size < 7) return;
      ctx.font = `${size / scale}px "Noto Sans", system-ui, sans-serif`;
      ctx.fillStyle = dark(hexes[s]) ? "#fff" : "#000";
      ctx.fillText(swatch.code, x, y);
    });
  }

  #drawMarks() {
    if (!this.painting) return;
    const ctx = this.marks;
    this.#clear(ctx);
    const px = 1 / this.place.scale;
    const { painting } = this;
    if (this.show.repeat) for (const zone of painting.drawing.zones) drawRepeat(ctx, zone, px);
    const r = (this.box.clientWidth > 600 ? 10 : 6) * px;
    if (this.show.defects && this.ringed)
      painting.drawing.defects.forEach((d, k) => {
        // lines drawn twice were taken once; there is nothing to look for
        if (d.done === "merged") return;
        ring(ctx, d.at, r, "#fff", 5 * px);
        ring(ctx, d.at, r, "#c1121f", 2 * px);
        label(ctx, String(k + 1), d.at[0] + r, d.at[1] - r, "#c1121f", px);
      });
    if (this.mended)
      for (const [colour, width] of [["#fff", 7], ["#c1121f", 4]]) {
        ctx.strokeStyle = colour;
        ctx.lineWidth = width * px;
        ctx.stroke(new Path2D(this.mended));
      }
    const { show, events } = this;
    const marked = show.weakest === "short" ? events.short?.() : show.weakest;
    const weakest = marked ? events.weakest?.() : null;
    if (weakest) {
      const [a, b] = weakest.regions.map((r) => painting.drawing.places[r]);
      const middle = [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
      const radius = Math.max(Math.hypot(a[0] - b[0], a[1] - b[1]) / 2, 9 * px);
      ring(ctx, middle, radius, "#fff", 4 * px);
      ring(ctx, middle, radius, "#000", 1.5 * px, [4 * px, 3 * px]);
      // on a small screen the words would hide the drawing
      if (this.box.clientWidth > 600)
        label(ctx, text.mostAlike, middle[0] + radius + 4 * px, middle[1] + 4 * px, "#000", px);
    }
    const lit = this.lit === null ? this.asked : [...this.asked, this.lit];
    for (const kind of new Set(lit)) this.#drawLit(kind, px, lit.length > 1);
    if (this.at >= 0 && document.activeElement === this.box) this.#rim([this.#path(this.at)], px, 2);
  }

  /** Show where a kind lies: outlined, or if it is in many places by veiling the others. */
  #drawLit(kind, px, several) {
    const ctx = this.marks;
    const regions = this.painting.classes.kind.get(kind);
    if (!regions) return;
    let paths = (this.groups.get(kind) ?? []).map(([, path]) => path);
    // a veil over all others would lie over the other kinds that are lit
    if (regions.length > MANY && !several) {
      if (this.place.scale < 2 * NEARER * this.least) {
        this.#prepareIds(Infinity);
        const { width, height, per } = this.ids;
        ctx.drawImage(this.#veil(kind), 0, 0, width / per, height / per);
        return;
      }
      paths = regions.filter((r) => this.#inView(r)).map((r) => this.#path(r));
    }
    this.#rim(paths, px);
  }

  #rim(paths, px, times = 1) {
    const ctx = this.marks;
    ctx.lineJoin = "round";
    for (const [colour, width] of [["#fff", 5], ["#000", 2]]) {
      ctx.strokeStyle = colour;
      ctx.lineWidth = width * times * px;
      for (const path of paths) ctx.stroke(path);
    }
  }

  /** Whether a region may be seen at the present place. */
  #inView(region) {
    const { places, area } = this.painting.drawing;
    const { scale, x, y } = this.place;
    const [w, h] = this.#size();
    const [mx, my] = [places[region][0] * scale + x, places[region][1] * scale + y];
    const reach = w + h + 4 * Math.sqrt(area[region]) * scale;
    return mx > -reach && my > -reach && mx < w + reach && my < h + reach;
  }

  /** A canvas that covers all regions but those of a kind. */
  #veil(kind) {
    let canvas = this.veils.get(kind);
    this.veils.delete(kind); // and put at the end: the one used last is dropped last
    if (!canvas) {
      const { inside, width, height } = this.ids;
      canvas = document.createElement("canvas");
      [canvas.width, canvas.height] = [width, height];
      const ctx = canvas.getContext("2d");
      const image = ctx.createImageData(width, height);
      const pixels = new Uint32Array(image.data.buffer);
      const veiled = new Uint32Array(this.painting.swatch.length + 1);
      this.painting.drawing.kind.forEach((k, r) => {
        veiled[r + 1] = k === kind ? 0 : 0xb0e8e8e8;
      });
      for (let k = 0; k < inside.length; k += 1) pixels[k] = veiled[inside[k]];
      ctx.putImageData(image, 0, 0);
      if (this.veils.size >= VEILS) this.veils.delete(this.veils.keys().next().value);
    }
    this.veils.set(kind, canvas);
    return canvas;
  }

  /** Enter regions in the canvas that tells them apart: a batch at each idle moment, or all. */
  #prepareIds(most = BATCH) {
    if (this.ids) return;
    const { width, height, shapes } = this.painting.drawing;
    if (this.entering?.shapes !== shapes) {
      const per = IDS / Math.max(width, height, 1e-9);
      const canvas = document.createElement("canvas");
      canvas.width = Math.max(Math.ceil(width * per), 1);
      canvas.height = Math.max(Math.ceil(height * per), 1);
      const ctx = canvas.getContext("2d", { willReadFrequently: true });
      ctx.setTransform(per, 0, 0, per, 0, 0);
      this.entering = { shapes, per, ctx, next: 0 };
    }
    const { ctx, per, next } = this.entering;
    const last = Math.min(next + most, shapes.length);
    for (let region = next; region < last; region += 1) {
      ctx.fillStyle = `#${(region + 1).toString(16).padStart(6, "0")}`;
      ctx.fill(this.#path(region), "evenodd");
    }
    this.entering.next = last;
    if (last < shapes.length) {
      const again = () => {
        if (this.entering?.shapes === this.painting.drawing.shapes) this.#prepareIds();
      };
      if (window.requestIdleCallback) window.requestIdleCallback(again);
      else setTimeout(again, 30);
      return;
    }
    const { width: w, height: h } = ctx.canvas;
    this.ids = { ...readIds(ctx, shapes.length), width: w, height: h, per };
    this.entering = null;
  }

  #size() {
    return [this.box.clientWidth, this.box.clientHeight];
  }

  #resize() {
    const [w, h] = this.#size();
    if (!w || !h) return;
    const [before, moved] = [this.room ?? [w, h], this.moved && this.place];
    this.room = [w, h];
    this.ratio = window.devicePixelRatio || 1;
    for (const canvas of this.canvases) {
      canvas.width = Math.max(Math.round(w * this.ratio), 1);
      canvas.height = Math.max(Math.round(h * this.ratio), 1);
    }
    if (!this.painting) return;
    this.fit();
    // who came closer sees the same place as before
    if (moved) this.#goOn({ ...moved, x: moved.x + (w - before[0]) / 2, y: moved.y + (h - before[1]) / 2 });
  }

  #goOn(place) {
    this.place = place;
    this.moved = true;
    this.#soon();
  }

  #clear(ctx) {
    ctx.setTransform(1, 0, 0, 1, 0, 0);
    ctx.clearRect(0, 0, ctx.canvas.width, ctx.canvas.height);
    const { scale, x, y } = this.place;
    const r = this.ratio ?? 1;
    ctx.setTransform(scale * r, 0, 0, scale * r, x * r, y * r);
    ctx.setLineDash([]);
  }

  #soon() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => this.draw());
  }

  #listen() {
    const { box } = this;
    const held = new Map();
    let moved = 0;
    const at = (event) => {
      const frame = box.getBoundingClientRect();
      return [event.clientX - frame.left, event.clientY - frame.top];
    };
    box.addEventListener("pointerdown", (event) => {
      if (event.button) return; // the other buttons of a mouse have work of their own
      box.setPointerCapture(event.pointerId);
      held.set(event.pointerId, at(event));
      if (held.size === 1) moved = 0;
    });
    box.addEventListener("pointermove", (event) => {
      const now = at(event);
      const before = held.get(event.pointerId);
      if (!before) {
        this.events.hover?.(this.regionAt(...now));
        return;
      }
      const [dx, dy] = [now[0] - before[0], now[1] - before[1]];
      moved += Math.hypot(dx, dy);
      if (held.size === 2) {
        const other = [...held].find(([id]) => id !== event.pointerId)[1];
        const span = (p) => Math.max(Math.hypot(p[0] - other[0], p[1] - other[1]), 1);
        this.zoom(span(now) / span(before), other[0], other[1]);
      } else if (moved > 6) this.pan(dx, dy);
      held.set(event.pointerId, now);
    });
    const end = (event) => {
      const touched = held.delete(event.pointerId) && held.size === 0 && moved <= 6;
      if (!touched || event.type !== "pointerup") return;
      const [px, py] = at(event);
      const { scale, x, y } = this.place;
      this.events.touch?.(this.regionAt(px, py), [(px - x) / scale, (py - y) / scale]);
    };
    box.addEventListener("pointerup", end);
    box.addEventListener("pointercancel", end);
    for (const event of ["focus", "blur"])
      box.addEventListener(event, () => this.at >= 0 && this.#drawMarks());
    box.addEventListener("pointerleave", () => this.events.hover?.(-1));
    box.addEventListener(
      "wheel",
      (event) => {
        if (!this.painting) return;
        event.preventDefault();
        this.zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.05 : 0.002)), ...at(event));
      },
      { passive: false },
    );
    const keys = {
      ArrowLeft: () => this.pan(40, 0),
      ArrowRight: () => this.pan(-40, 0),
      ArrowUp: () => this.pan(0, 40),
      ArrowDown: () => this.pan(0, -40),
      "+": () => this.zoom(1.25),
      "=": () => this.zoom(1.25),
      "-": () => this.zoom(0.8),
      0: () => this.fit(),
    };
    const regions = {
      ArrowLeft: () => this.step(-1, 0),
      ArrowRight: () => this.step(1, 0),
      ArrowUp: () => this.step(0, -1),
      ArrowDown: () => this.step(0, 1),
    };
    keys.Enter = () => this.at >= 0 && this.events.touch?.(this.at, this.painting.drawing.places[this.at].slice(0, 2));
    box.addEventListener("keydown", (event) => {
      const known = event.shiftKey && regions[event.key] ? regions : keys;
      const act = event.ctrlKey || event.metaKey || event.altKey ? null : known[event.key];
      if (!act || !this.painting) return;
      event.preventDefault();
      act();
    });
  }
}

/** The region of each pixel, counted from 1, and the same without those that fills blend. */
function readIds(ctx, count) {
  const { width, height } = ctx.canvas;
  const { data } = ctx.getImageData(0, 0, width, height);
  const at = new Uint32Array(width * height);
  for (let k = 0; k < at.length; k += 1) {
    const id = (data[4 * k] << 16) | (data[4 * k + 1] << 8) | data[4 * k + 2];
    if (id <= count) at[k] = id;
  }
  const inside = new Uint32Array(at.length);
  for (let k = 0; k < at.length; k += 1) {
    const id = at[k];
    if (id === at[k - 1] || id === at[k + 1])
      if (id === at[k - width] || id === at[k + width]) inside[k] = id;
  }
  return { at, inside };
}

const NEAR = [0, 1, -1, 2, -2].flatMap((dy) => [0, 1, -1, 2, -2].map((dx) => [dx, dy]));
NEAR.sort((p, q) => Math.hypot(...p) - Math.hypot(...q));
