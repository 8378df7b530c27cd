// Under the heading Drawing: which drawing, what was found in it, what to mend.

import { button, element, field, fileField, rebuild, tick } from "./dom.js";
import { speakHere, text } from "./text.js";

const REPAIRS = {
  gap: ["close"],
  "loose end": ["close", "cut", "drop"],
  overshoot: ["cut", "drop"],
  bridge: ["drop"],
};

const LENGTHS = { mm: 1, cm: 10, m: 1000, in: 25.4 };
const FAINT = 0.7; // as wide as the final lines, below which lines may be construction
const LEAST_REACH = 0.02; // of the longer side, to which ends may be joined at least
const FIRST = 30; // places listed at once

/** Fill the part of the page about the drawing. */
export function drawingPart(app, part) {
  const choose = element("div", { class: "choose" });
  const found = element("div", { class: "found" });
  part.append(found);
  if (app.live) {
    part.append(chooseDrawing(app, choose));
  }
  app.on("drawing", (drawing) => showFound(app, found, drawing));
  app.on("opened", () => rebuild(found));
  app.on("lines", (lines) => {
    const size = `${round(lines.width)} × ${round(lines.height)} mm`;
    rebuild(
      found,
      element("p", { class: "lead" }, `${lines.file}, ${size}`),
      construction(app, lines),
      lines.line_groups.length > 1 ? lineGroups(app, lines) : null,
    );
  });
}

/** Suffixes of drawings that are lines, not pictures. */
export const LINE_FILES = ".svg,.svgz,.dxf,.pdf";

/** A control that takes a drawing. */
export function fileInput(app) {
  const pictures = "image/svg+xml,application/pdf,image/png,image/jpeg,image/tiff,image/webp";
  return fileField(`${LINE_FILES},${pictures}`, (file) => take(app, file));
}

/** Take up a drawing, or a plan for the one that is there. */
function take(app, file) {
  if (app.painting && /\.toml$/i.test(file.name)) app.give("open-plan", file);
  else app.open(() => app.service.send("open", file));
}

function drop(app, files) {
  if (files.length > 1) app.say(text.oneByOneOnly, true);
  else if (files.length) take(app, files[0]);
}

function chooseDrawing(app, box) {
  const area = element("div", { class: "drop" }, field(text.chooseFile, fileInput(app), text.orDrop));
  const over = (on) => (event) => {
    event.preventDefault();
    document.body.classList.toggle("over", on);
  };
  for (const name of ["dragenter", "dragover"]) document.addEventListener(name, over(true));
  for (const name of ["dragleave", "drop"]) document.addEventListener(name, over(false));
  document.addEventListener("drop", (event) => drop(app, event.dataTransfer?.files ?? []));
  const lists = element("div");
  box.append(area, lists);
  const show = ({ demos, last }) => {
    const demo = (name) =>
      button(name.replaceAll("-", " "), () => app.open(() => app.service.post("open-demo", { name })));
    const sheet = ({ id, file, when }) =>
      element(
        "li",
        {},
        button(file, () => app.open(() => app.service.post("reopen", { id }))),
        element("small", {}, text.when(when)),
      );
    const others = last.filter(({ id }) => id !== app.sheet);
    rebuild(
      lists,
      element("p", {}, text.demos),
      element("div", { class: "words" }, ...demos.map(demo)),
      others.length ? element("h3", {}, text.goOn) : null,
      others.length ? element("ul", { class: "plain" }, ...others.map(sheet)) : null,
    );
  };
  app.on("start", show);
  const folded = fold(text.another, box);
  // what was opened since the page was loaded is there too
  folded.addEventListener("toggle", () => folded.open && app.attempt(async () => show(await app.service.get("start"))));
  app.on("opened", () => {
    folded.open = false;
  });
  return folded;
}

/** Something that can be folded away under its words. */
export function fold(words, content, open = false) {
  return element("details", { open }, element("summary", {}, ...[words].flat()), content);
}

function showFound(app, box, drawing) {
  const scale = drawing.real_scale;
  const sized = (k) => `${round(k * drawing.width)} × ${round(k * drawing.height)} mm`;
  const size = sized(1) + (drawing.scale_known && scale !== 1 ? text.atScale(scale, sized(scale)) : "");
  const several = drawing.zones.length > 1;
  const alike = Map.groupBy
    ? Map.groupBy(drawing.zones, (zone) => `${zone.role}: ${zone.sentence}`)
    : new Map(drawing.zones.map((zone) => [zone.zone, [zone]]));
  const roles = new Set(drawing.zones.map((zone) => zone.role));
  const plainly = roles.size === alike.size && !roles.has("");
  const said = [...alike.values()].map((zones) =>
    element(
      "p",
      {},
      several
        ? `${plainly ? text.zoneRoles(zones.length, zones[0].role) : text.zones(zones.map((z) => z.zone), zones[0].role)}: ${zones[0].sentence}.`
        : `${capital(zones[0].sentence)}.`,
    ),
  );
  // a framed panel has many parts: they wait under one line
  const sentences = said.length > 2 ? [fold(text.partsOf(drawing.zones.length), element("div", {}, ...said))] : said;
  rebuild(
    box,
    app.live ? construction(app, drawing) : null,
    element("p", { class: "lead" }, text.found(drawing.file, size, drawing.shapes.length, drawing.kinds.length)),
    ...(drawing.shapes.length ? sentences : [element("p", {}, text.noRegions)]),
    ...(app.live ? [...alike.values()].filter(([zone]) => zone.settling.length > 1).map((zones) => doubt(app, zones, several)) : []),
    element("p", { class: "small" }, drawing.scale_known ? "" : text.scaleUnknown),
    app.live ? trueWidth(app, drawing) : null,
    drawing.defects.length ? defects(app, drawing) : null,
    app.live && drawing.line_groups.length > 1 ? lineGroups(app, drawing) : null,
    drawing.notes.length ? notes(drawing.notes) : null,
  );
}

/** The symmetries that zones alike may have, as pictures to choose from. */
function doubt(app, zones, several) {
  const [{ zone, settling }] = zones;
  const state = (group) => {
    const all = Object.fromEntries(zones.map((one) => [String(one.zone), group]));
    return () => app.change({ symmetry: several ? { zones: all } : { group } }, text.stateSymmetry(group));
  };
  const box = element("div", { class: "pictures" });
  const details = fold(several ? text.whichSymmetryOf(zones.map((z) => z.zone), zones[0].role) : text.whichSymmetry, box);
  details.addEventListener(
    "toggle",
    async () => {
      for (const [k, group] of settling.entries()) {
        const words = text.symmetryNamed(group);
        const press = button("", state(group), { class: "pictured", data: { key: `doubt-${zone}-${group}` } });
        const image = element("img", { alt: "" });
        press.append(image, element("span", {}, words), element("small", {}, k ? "" : text.likeliest));
        box.append(press);
        try {
          const name = `zone-${zone}-${group.replace(":", "-")}`;
          image.src = await app.picture(name);
        } catch {
          press.remove(); // the zone cannot have it
        }
      }
    },
    { once: true },
  );
  return details;
}

/** A length in words, in mm; without a unit of its own it is in `unit`. */
export function lengthOf(words, unit = "mm") {
  const [, number, own] = /^([0-9]*[.,]?[0-9]+)\s*(mm|cm|m|in)?$/i.exec(words.trim()) ?? [];
  return Number(number?.replace(",", ".")) * LENGTHS[(own ?? unit).toLowerCase()];
}

/** Width and height in words, in mm: with × between, or a comma; a unit behind the last serves both. */
export function sizeOf(words) {
  const parts = words.trim().split(/\s*(?:[×x*]|\bby\b)\s*/i);
  const two = parts.length === 2 ? parts : words.split(/[,;]/);
  const [, unit] = /(mm|cm|m|in)\s*$/i.exec(two.at(-1)) ?? [];
  const size = two.map((part) => lengthOf(part, unit));
  return size.length === 2 && size.every((value) => value > 0) ? size : null;
}

function trueWidth(app, drawing) {
  const now = drawing.width * drawing.real_scale;
  const input = element("input", {
    type: "text",
    value: `${round(now)} mm`,
    data: { key: "width" },
    onchange: () => {
      const words = input.value.trim();
      const value = lengthOf(words);
      if (words && !(value > 0)) return app.say(text.noLength(words), true);
      return app.change({ drawing: { real_width_mm: words ? value : null } }, text.trueWidth);
    },
  });
  return field(text.trueWidth, input, text.trueWidthHint);
}

/** Places of one sort together, those that want a decision first. */
function defects(app, drawing) {
  const groups = new Map();
  for (const defect of drawing.defects) {
    const key = `${defect.type} ${defect.done}`;
    if (!groups.has(key)) groups.set(key, []);
    groups.get(key).push(defect);
  }
  const repairs = (list) => (list[0].done === "left" ? (REPAIRS[list[0].type] ?? []) : []);
  const sorted = [...groups.values()].sort(
    (p, q) => repairs(q).length - repairs(p).length || q.length - p.length,
  );
  const rows = sorted.map((list, k) => defectGroup(app, list, app.live ? repairs(list) : [], k));
  const open = app.live && sorted.some((list) => repairs(list).length);
  return fold(
    text.defects(drawing.defects.length),
    element("div", {}, app.live ? mendingReach(app, drawing) : null, element("ul", { class: "plain" }, ...rows)),
    open,
  );
}

/** A button that mends places, and shows before it is pressed which they are. */
function mend(app, kind, list, words, properties) {
  const taken = { cut: "overhang", drop: "line" }[kind];
  const show = (on) => () => app.tell("mending", on && taken ? list.map((defect) => defect[taken] ?? "").join("") : "");
  const press = () => {
    app.tell("mending", "");
    app.ask("repair", { kind, places: list.map((defect) => defect.at_mm) });
  };
  const made = button(words, press, properties);
  for (const event of ["pointerenter", "focus"]) made.addEventListener(event, show(true));
  for (const event of ["pointerleave", "blur"]) made.addEventListener(event, show(false));
  return made;
}

function defectGroup(app, list, repairs, k) {
  const { type, done } = list[0];
  const sizes = list.map((defect) => defect.size).sort((p, q) => p - q);
  const span = [sizes[0], sizes.at(-1)].map((size) => String(round(size)));
  let shown = -1;
  const show = button(
    text.showPlace,
    () => {
      // one after the other, the largest first
      shown = (shown + 1) % list.length;
      app.tell("place", byNeed[shown].at);
      show.textContent = list.length > 1 ? text.showNext(shown + 1, list.length) : text.showPlace;
    },
    { data: { key: `place${k}` }, "aria-label": text.showPlaceOf(k + 1) },
  );
  const byNeed = [...list].sort((p, q) => q.size - p.size);
  const all = repairs.map((kind) =>
    mend(app, kind, list, list.length > 1 ? text.repairAll[kind] : text.repair[kind], {
      data: { key: `${kind}${k}` },
    }),
  );
  const each = element("ol", { class: "defects" });
  const single = (defect) =>
    element(
      "li",
      {},
      element("span", {}, text.sizeOf(round(defect.size))),
      button(text.showPlace, () => app.tell("place", defect.at), { class: "quiet" }),
      ...repairs.map((kind) => mend(app, kind, [defect], text.repair[kind], { class: "quiet" })),
    );
  const one = list.length > 1 && repairs.length ? fold(text.oneByOne, each) : null;
  one?.addEventListener("toggle", () => each.replaceChildren(...byNeed.slice(0, FIRST).map(single)), {
    once: true,
  });
  return element(
    "li",
    { class: "group" },
    element("span", { class: "name" }, text.defectGroup(type, list.length, span, done)),
    show,
    ...all,
    one,
  );
}

/** How far ends are mended, as a slider that tells at once what it would close. */
function mendingReach(app, drawing) {
  const gaps = drawing.defects.filter((d) => d.type === "gap").map((d) => d.size);
  const stated = app.plan?.plan.lines?.close_gaps_mm;
  const loose = drawing.defects.some((d) => d.type === "loose end" && d.done === "left");
  // what is joined no more is no gap but an end that stops alone
  if (!gaps.length && !loose && stated === undefined) return null;
  const now = stated ?? drawing.close_gaps_mm ?? 0;
  const most = Math.max(1.25 * Math.max(...gaps, now), LEAST_REACH * Math.max(drawing.width, drawing.height));
  const words = element("output", { class: "small" });
  const slider = element("input", {
    type: "range",
    min: "0",
    max: String(most),
    step: String(most / 100),
    value: String(now),
    data: { key: "mend" },
    oninput: () => tell(),
    onchange: () => app.change({ lines: { close_gaps_mm: Number(Number(slider.value).toPrecision(3)) } }, text.mending),
  });
  const tell = () => {
    const value = Number(slider.value);
    const closed = gaps.filter((size) => size <= value + 1e-9).length;
    words.textContent = text.mended(round(value), closed, gaps.length);
  };
  tell();
  return element("div", {}, field(text.mending, slider), words);
}

/** What tells a group of lines from the others. */
export function selector(group) {
  return [
    group.layer === null ? null : `layer=${group.layer}`,
    group.colour ? `colour=${group.colour}` : null,
    group.dash ? "dash=yes" : null,
  ]
    .filter(Boolean)
    .join(",");
}

/** The groups among the lines taken that look like construction: thinner, dashed or so named. */
export function suspects(drawing) {
  const used = drawing.line_groups.filter((group) => group.used);
  const whole = used.reduce((sum, group) => sum + group.length, 0);
  // the widest pen is the final one, if it draws more than a few marks
  const [main] = used.filter((group) => !group.guide && group.length >= 0.05 * whole).sort((p, q) => q.width - p.width || q.length - p.length);
  const own = used.filter(
    (group) =>
      main &&
      selector(group) !== selector(main) &&
      ((group.dash && !main.dash) || FAINT * main.width > group.width || group.guide),
  );
  return own.length < used.length ? own : [];
}

/** Ask whether such lines are to be left out; what the person answers holds for this drawing. */
function construction(app, drawing) {
  const own = app.answered ? [] : suspects(drawing);
  if (!own.length) return null;
  const leave = drawing.line_groups.filter((group) => !group.used || own.includes(group)).map(selector);
  return element(
    "div",
    { class: "ask" },
    element("p", {}, element("b", {}, text.isConstruction)),
    ...own.map((group) => element("p", {}, ...likeness(group))),
    element(
      "div",
      { class: "words" },
      button(text.leaveOut, () => app.change({ lines: { use: null, leave } }, text.leaveOut), {
        class: "main",
        data: { key: "leave-out" },
      }),
      button(text.belongs, () => {
        app.answer();
        app.tell("turn", "colours");
        app.tell("drawing", app.drawing);
      }, { data: { key: "belongs" } }),
    ),
  );
}

/** How a group of lines looks, and its words. */
function likeness(group) {
  const line = element("i", { class: group.dash ? "lines-like dash" : "lines-like", "aria-hidden": "true" });
  if (group.colour) line.style.borderBlockStartColor = group.colour;
  return [line, text.lineGroup(group)];
}

function lineGroups(app, drawing) {
  let lines = null; // the lines of each group, fetched when first asked for
  const mean = (k, on) => async () => {
    if (on) lines ??= drawing.paths ? drawing : await app.get("lines").catch(() => null);
    const d = on ? (lines?.paths[lines.line_groups[k]?.path] ?? "") : "";
    if (app.painting) app.tell("mending", d);
    app.tell("meant", d);
  };
  const used = drawing.line_groups.map((group) => group.used);
  const rows = drawing.line_groups.map((group, k) => {
    const row = tick(
      element("span", {}, ...likeness(group)),
      group.used,
      (on) => {
        used[k] = on;
        const left = drawing.line_groups.filter((_, j) => !used[j]).map(selector);
        app.change({ lines: { use: null, leave: left.length ? left : null } }, text.lines);
      },
      { data: { key: `lines${k}` } },
    );
    for (const event of ["pointerenter", "focusin"]) row.addEventListener(event, mean(k, true));
    for (const event of ["pointerleave", "focusout"]) row.addEventListener(event, mean(k, false));
    return row;
  });
  return fold(text.lines, element("div", {}, element("p", {}, text.linesHint), ...rows), true);
}

/** Notes of the work, each with what to do. */
export function notes(list) {
  const rows = list.map((note) =>
    element("li", {}, capital(note.text) + ".", speakHere(note.remedy) ? element("small", {}, speakHere(note.remedy)) : null),
  );
  return fold(text.notes(list.length), element("ul", { class: "plain" }, ...rows), list.length < 4);
}

export function round(value) {
  return Number(value.toPrecision(4));
}

export function capital(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
