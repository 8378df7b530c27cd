// Under the heading Regions: the kinds, how they match, and how the drawing is seen.

import { button, choice, element, field, rebuild, rove, square, tick, written } from "./dom.js";
import { numberField } from "./numbers.js";
import { fold } from "./part_drawing.js";
import { text } from "./text.js";

const AT_ONCE = 60; // rows shown before more are asked for

/** Fill the part of the page about regions and kinds. */
export function regionsPart(app, part, sight) {
  const show = (name) => (on) => {
    sight.show[name] = on;
    sight.draw();
  };
  const ticks = element(
    "div",
    {},
    tick(text.showNumbers, false, show("numbers")),
    tick(text.showRepeat, false, show("repeat")),
    tick(text.showDefects, sight.show.defects, show("defects")),
  );
  const settings = element("div");
  part.append(element("p", {}, text.regionsHint), ticks, settings);
  if (app.live) app.on("plan", () => showMatching(app, settings));
}

/** List the kinds, each with its paints, as rows to touch. */
export function kindsList(app, list) {
  let most = AT_ONCE;
  const home = {};
  app.on("drawing", () => {
    most = AT_ONCE;
    home.key = undefined;
  });
  const draw = () => {
    if (!app.painting) return rebuild(list);
    const { kinds } = app.painting.drawing;
    const rows = kinds.slice(0, most).map((kind, k) => row(app, kind, k, draw));
    const left = kinds.length - rows.length;
    const all = element("ul", { class: "kinds", "aria-label": text.kinds }, ...rows);
    rove(all, home);
    return rebuild(
      list,
      all,
      left > 0
        ? button(text.more(left), () => {
            most += AT_ONCE * 4;
            draw();
          }, { data: { key: "more-kinds" } })
        : null,
    );
  };
  app.on("colours", draw);
  app.on("chosen", draw);
  app.on("painted", draw);
  app.on("lit", (kind) => {
    for (const item of list.querySelectorAll("li"))
      item.classList.toggle("lit", item.dataset.kind === String(kind));
  });
}

function row(app, kind, k, draw) {
  const { painting } = app;
  const swatches = painting.swatchesOf(k).map((s) => painting.swatches[s]);
  const chosen = painting.swatches[app.chosen]?.name ?? null;
  const now = swatches.map((s) => `${s.code} ${s.name}`).join(", ");
  const light = () => app.tell("light", k);
  const dim = () => app.tell("light", null);
  const press = element(
    "button",
    {
      type: "button",
      class: "kind",
      data: { key: `kind${k}` },
      "aria-label": text.paintKind(kind.letter, kind.name, now, chosen),
      title: text.paintKind(kind.letter, kind.name, now, chosen),
      onclick: () => app.touch(painting.classes.kind.get(k)[0], "kind"),
      onfocus: light,
      onblur: dim,
    },
    ...swatches.slice(0, 3).map((s) => chip(s)),
    element("b", {}, kind.letter),
    element("span", { class: "name" }, kind.name),
    element("span", { class: "count" }, text.kindCount(kind.count, kind.share)),
  );
  const item = element("li", { data: { kind: String(k) } }, press);
  item.addEventListener("pointerenter", light);
  item.addEventListener("pointerleave", dim);
  if (app.live) {
    const name = () => rename(app, item, kind, k, draw);
    press.setAttribute("aria-keyshortcuts", "F2");
    press.addEventListener("keydown", ({ key }) => key === "F2" && name());
    item.append(
      button(text.rename, name, {
        class: "quiet",
        "aria-label": text.renameKind(kind.letter),
        data: { key: `rename${k}` },
      }),
    );
  }
  return item;
}

function rename(app, item, kind, k, draw) {
  // the place of the button that was pressed, to which the focus comes back
  const data = { key: `rename${k}` };
  const input = element("input", { type: "text", value: kind.name, maxLength: 80, "aria-label": text.newName(kind.letter), data });
  const keep = () => {
    const name = input.value.trim();
    written(input);
    if (name && name !== kind.name) app.change({ names: { [kind.letter]: name } }, text.rename);
    else draw();
  };
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") keep();
    if (event.key !== "Escape") return;
    written(input);
    draw();
  });
  item.replaceChildren(input, button(text.keepName, keep, { data }));
  input.focus();
  input.select();
}

/** A swatch as a small square with its number beside it. */
export function chip(swatch) {
  return element("span", { class: "chipped" }, square(swatch.hex, "chip"), element("small", {}, swatch.code));
}

function showMatching(app, box) {
  const { symmetry = {} } = app.plan.plan;
  const match = choice(
    Object.entries(text.matches),
    symmetry.match ?? "all",
    (value) => app.change({ symmetry: { match: value === "all" ? null : value } }, text.match),
    { data: { key: "match" } },
  );
  const percent = { min: "0", max: "50", step: "any", data: { key: "alike" }, hint: text.alikeHint };
  const alike = numberField(app, text.alike, Number((100 * (symmetry.alike ?? 0.03)).toFixed(3)), percent, (value) =>
    app.change({ symmetry: { alike: value === null || value === 3 ? null : value / 100 } }, text.alike),
  );
  const groups = [["auto", text.symmetryAuto], ["none", text.symmetryNone]];
  const stated = choice(
    [...groups, ...app.start.groups.map((name) => [name, name.replace(":", " ")])],
    symmetry.group ?? "auto",
    (value) => app.change({ symmetry: { group: value === "auto" ? null : value } }, text.symmetry),
    { data: { key: "symmetry" } },
  );
  const edge = choice(
    Object.entries(text.edges),
    app.plan.plan.lines?.page_edge ?? "auto",
    (value) => app.change({ lines: { page_edge: value === "auto" ? null : value } }, text.edge),
    { data: { key: "edge" } },
  );
  const { bands = {} } = app.plan.plan;
  const find = choice(
    Object.entries(text.bandsFound),
    bands.find === undefined || bands.find === "auto" || bands.find === "no" ? (bands.find ?? "auto") : "auto",
    (value) => app.change({ bands: { find: value === "auto" ? null : value } }, text.bands),
    { data: { key: "bands" } },
  );
  const wide = { min: "0.01", step: "any", data: { key: "band-width" }, hint: text.bandWidthHint };
  const width = numberField(app, text.bandWidth, bands.width_mm, wide, (value) =>
    app.change({ bands: { width_mm: value } }, text.bandWidth),
  );
  rebuild(
    box,
    fold(
      text.howMatched,
      element(
        "div",
        {},
        field(text.match, match),
        ...(["family", "figure"].includes(symmetry.match) ? [alike] : []),
        field(text.symmetry, stated),
        field(text.edge, edge),
      ),
      box.querySelector("details")?.open ?? false,
    ),
    fold(
      text.weaving,
      element(
        "div",
        {},
        field(text.bands, find, text.bandsHint),
        width,
      ),
      box.querySelectorAll("details")[1]?.open ?? Boolean(app.drawing?.strands || bands.width_mm),
    ),
  );
}
