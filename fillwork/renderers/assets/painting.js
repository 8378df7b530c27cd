// Which region bears which swatch, and what follows from it. No page, no server.

const SCOPES = ["kind", "turns", "shifts", "only"];

/** Holds the colours as they stand, the pins, and the way back. */
export class Painting {
  constructor(drawing, colouring) {
    // a piece of a band goes with its strand, any other region by itself
    drawing.strands ??= Boolean(drawing.only);
    drawing.only ??= drawing.kind.map((_, region) => region);
    this.drawing = drawing;
    this.classes = {
      kind: members(drawing.kind),
      turns: members(drawing.turns),
      shifts: members(drawing.shifts),
      only: members(drawing.only),
    };
    this.past = [];
    this.future = [];
    this.take(colouring);
  }

  /** Take up another colouring of the same drawing. */
  take(colouring) {
    this.colouring = colouring;
    this.swatch = Int32Array.from(colouring.of_face);
    this.pins = colouring.pins.map((pin) => ({ ...pin }));
    // what keeps the other colours in a plan that is given back
    this.standing = colouring.standing;
    this.measured = null;
  }

  get swatches() {
    return this.colouring.palette.swatches;
  }

  /** The regions that a touch on one of them reaches. */
  reach(region, scope) {
    return this.classes[scope].get(this.drawing[scope][region]);
  }

  /** Give regions a swatch and pin them; returns the regions that changed. */
  paint(region, scope, swatch) {
    const regions = this.reach(region, scope);
    this.past.push(this.#keep());
    this.future = [];
    const [x, y] = this.drawing.places[region];
    const inside = new Set(regions);
    // a pin for all of them stands for the smaller ones among them
    const within = (pin) => pin.regions.every((r) => inside.has(r));
    this.pins = this.pins.filter((pin) => !within(pin));
    this.standing = this.standing.filter((pin) => pin.scope === "kind" || !within(pin));
    const where = `@${trim(x)},${trim(this.drawing.height - y)}`;
    this.pins.push({ where, scope, swatch, regions });
    this.#apply();
    const finer = this.#finer(scope);
    for (const r of regions) if (!finer.has(r)) this.swatch[r] = swatch;
    this.measured = null;
    return regions;
  }

  /** Let a pin go; its colour stays until the rest is solved again. */
  release(released) {
    this.past.push(this.#keep());
    this.future = [];
    this.standing = [...this.standing.filter((pin) => !sameReach(pin, released)), released];
    this.pins = this.pins.filter((pin) => pin !== released);
  }

  undo() {
    return this.#swap(this.past, this.future);
  }

  redo() {
    return this.#swap(this.future, this.past);
  }

  #keep() {
    return { swatch: this.swatch.slice(), pins: this.pins, standing: this.standing };
  }

  #swap(from, to) {
    const kept = from.pop();
    if (!kept) return false;
    to.push(this.#keep());
    this.swatch = kept.swatch;
    this.pins = kept.pins;
    this.standing = kept.standing;
    this.measured = null;
    return true;
  }

  /** Pins of smaller reach hold against those of larger reach. */
  #apply() {
    this.pins.sort((a, b) => SCOPES.indexOf(a.scope) - SCOPES.indexOf(b.scope));
  }

  /** The regions that pins of smaller reach hold. */
  #finer(scope) {
    const reach = SCOPES.indexOf(scope);
    const pins = this.pins.filter((pin) => SCOPES.indexOf(pin.scope) > reach);
    return new Set(pins.flatMap((pin) => pin.regions));
  }

  /** Contrast where kinds touch, and the share of each swatch. */
  measure() {
    if (this.measured) return this.measured;
    const { touch, shared, kind, area } = this.drawing;
    const difference = this.colouring.palette.difference;
    const pairs = new Map();
    const within = new Set(); // kinds whose own regions touch and are alike
    const count = this.drawing.kinds.length;
    for (let k = 0; k < touch.length; k += 2) {
      const [a, b] = [touch[k], touch[k + 1]];
      const [s, t] = [this.swatch[a], this.swatch[b]];
      if (kind[a] === kind[b] && s === t) {
        within.add(kind[a]);
        continue;
      }
      const value = difference[s][t];
      const [i, j] = kind[a] < kind[b] ? [kind[a], kind[b]] : [kind[b], kind[a]];
      const key = i * count + j;
      const length = shared[k / 2];
      const old = pairs.get(key);
      if (!old) pairs.set(key, { a: i, b: j, value, regions: [a, b], length, shared: length });
      else {
        old.shared += length;
        // the pair that shows it best stands for all
        const better = value === old.value && this.#shows([a, b], length, old);
        if (value < old.value || better) Object.assign(old, { value, regions: [a, b], length });
      }
    }
    const contacts = [...pairs.values()].sort((p, q) => p.value - q.value || q.shared - p.shared);
    const shares = this.swatches.map(() => ({ regions: 0, area: 0 }));
    let whole = 0;
    for (let r = 0; r < area.length; r += 1) {
      const share = shares[this.swatch[r]];
      if (!share) continue;
      share.regions += 1;
      share.area += area[r];
      whole += area[r];
    }
    for (const share of shares) share.share = whole ? share.area / whole : 0;
    this.measured = { contacts, shares, within: [...within].sort((p, q) => p - q) };
    return this.measured;
  }

  /** Whether a pair shares a longer side than another, or one nearer the middle. */
  #shows(regions, length, old) {
    if (Math.abs(length - old.length) > 0.01) return length > old.length;
    const { places, width, height } = this.drawing;
    const away = ([r]) => Math.hypot(places[r][0] - width / 2, places[r][1] - height / 2);
    return away(regions) < away(old.regions);
  }

  /** The swatches that a kind bears. */
  swatchesOf(kind) {
    return [...new Set(this.classes.kind.get(kind).map((r) => this.swatch[r]))];
  }

  /** The plan's text with the pins as they stand, for the command line. */
  plan(text) {
    const others = this.standing.filter((pin) => !this.pins.some((own) => sameReach(pin, own)));
    const rows = [...others, ...this.pins].map((pin) => {
      const [x, y] = pin.where.slice(1).split(",");
      const place = pin.where.startsWith("@")
        ? `at = [${decimal(x)}, ${decimal(y)}]`
        : `where = ${quoted(pin.where)}`;
      const scope = pin.scope === "kind" ? "" : `scope = ${quoted(pin.scope)}\n`;
      const name = quoted(this.swatches[pin.swatch].name);
      return `\n[[colouring.pin]]\n${place}\nswatch = ${name}\n${scope}`;
    });
    return text + rows.join("");
  }
}

function sameReach(p, q) {
  return p.scope === q.scope && String(p.regions) === String(q.regions);
}

function members(classOf) {
  const found = new Map();
  classOf.forEach((c, region) => {
    const list = found.get(c);
    if (list) list.push(region);
    else found.set(c, [region]);
  });
  return found;
}

function trim(value) {
  return String(Math.round(value * 1000) / 1000);
}

function decimal(text) {
  return text.includes(".") ? text : `${text}.0`;
}

function quoted(text) {
  return JSON.stringify(text);
}
