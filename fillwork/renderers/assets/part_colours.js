// Under the heading Colours: swatches, what a touch reaches, contrast, pins, palette.

import { button, choice, element, field, fileField, halves, rebuild, rove, square, tick } from "./dom.js";
import { numberField } from "./numbers.js";
import { capital, fold, notes } from "./part_drawing.js";
import { chip, kindsList } from "./part_regions.js";
import { wishesPart } from "./part_wishes.js";
import { text } from "./text.js";

const LISTED = 200; // touching pairs

/** Fill the part of the page about colours. */
export function coloursPart(app, part, sight) {
  const boxes = Object.fromEntries(
    ["palette", "taste", "contrast", "swatches", "steps", "kinds-box", "pins", "wishes", "view", "edit"].map((name) => [
      name,
      element("div", { class: name }),
    ]),
  );
  const reach = element("div");
  showReach(app, reach);
  const folded = fold(text.reach, reach);
  part.append(
    halves(
      [boxes.swatches, boxes.palette, boxes.taste, boxes.steps, boxes.contrast, boxes.pins],
      [boxes["kinds-box"], folded, boxes.wishes, boxes.view, boxes.edit],
    ),
  );
  kindsList(app, boxes["kinds-box"]);
  if (app.live) wishesPart(app, boxes.taste, boxes.wishes);
  app.on("colours", () => {
    showSwatches(app, boxes.swatches);
    showContrast(app, boxes.contrast, sight);
    showPins(app, boxes.pins);
    showView(app, boxes.view, sight);
    showSteps(app, boxes.steps);
  });
  app.on("chosen", () => showSwatches(app, boxes.swatches));
  app.on("painted", () => {
    showSwatches(app, boxes.swatches);
    showContrast(app, boxes.contrast, sight);
    showPins(app, boxes.pins);
    showSteps(app, boxes.steps);
  });
  app.on("state", () => showSteps(app, boxes.steps));
  if (app.live)
    app.on("plan", () => {
      showPalettes(app, boxes.palette);
      showEditing(app, boxes.edit);
    });
}

function showSwatches(app, box) {
  const { painting } = app;
  const { shares } = painting.measure();
  const rows = painting.swatches.map((swatch, k) => {
    const made = button("", () => app.choose(k), {
      class: "pick",
      "aria-pressed": String(k === app.chosen),
      data: { key: `swatch${k}` },
      title: swatch.pigments.join(", "),
    });
    made.append(
      square(painting.colouring.palette.views.normal[k]),
      element("b", {}, swatch.code),
      element("span", { class: "name" }, swatch.name),
      element("span", { class: "count" }, text.percent(shares[k].share)),
    );
    return element("li", {}, made);
  });
  const list = element("ul", { class: "picks", "aria-label": text.swatches }, ...rows);
  rove(list, app.picks ??= {});
  rebuild(box, list);
}

function showReach(app, box) {
  const rows = Object.entries(text.scopes).map(([scope, words]) =>
    element(
      "label",
      { class: "tick" },
      element("input", {
        type: "radio",
        name: "reach",
        value: scope,
        checked: scope === app.scope,
        onchange: () => app.reach(scope),
      }),
      element("span", {}, words),
    ),
  );
  const legend = element("legend", { class: "aside" }, text.reach);
  box.append(element("fieldset", {}, legend, ...rows));
  app.on("scope", () => {
    box.querySelector(`[value="${app.scope}"]`).checked = true;
  });
}

function showSteps(app, box) {
  if (!app.painting || !app.live) return;
  const solve = button(text.solve, () => app.ask("solve"), { class: "main", data: { key: "solve" } });
  rebuild(box, element("div", { class: "words" }, solve));
}

function showContrast(app, box, sight) {
  const { painting } = app;
  const { contacts, within } = painting.measure();
  const { goal, best, proven } = painting.colouring;
  const { kinds } = painting.drawing;
  const named = ({ regions }) =>
    regions
      .map((r) => {
        const swatch = painting.swatches[painting.swatch[r]];
        return `${kinds[painting.drawing.kind[r]].letter} ${swatch.code} ${swatch.name}`;
      })
      .join(" / ");
  const weakest = contacts[0];
  // what is said above needs no note
  const others = painting.colouring.notes.filter((note) => note.type !== "kind touches itself");
  const rows = contacts.slice(0, LISTED).map((pair) =>
    element(
      "tr",
      { class: pair.value < goal ? "weak" : "" },
      element("td", {}, named(pair)),
      element("td", { class: "number" }, pair.value.toFixed(1)),
    ),
  );
  const table = element(
    "table",
    {},
    element(
      "thead",
      {},
      element("tr", {}, element("th", {}, text.touching), element("th", { class: "number" }, "ΔE00")),
    ),
    element("tbody", {}, ...rows),
  );
  const mark = tick(
      text.showWeakest,
      sight.show.weakest === "short" ? app.short : sight.show.weakest,
      (on) => {
        sight.show.weakest = on;
        sight.draw();
      },
      { data: { key: "weakest" } },
    );
  rebuild(
    box,
    element(
      "p",
      { class: weakest && weakest.value < goal ? "short" : "" },
      weakest ? text.contrast(weakest.value, named(weakest), goal) : text.noContact,
      weakest
        ? element("small", {}, text.contrastMeasured(weakest.value, goal, app.live ? best : null, proven, painting.pins.length))
        : null,
    ),
    within.length
      ? element(
          "p",
          {},
          `${text.alikeWithin(within.map((k) => kinds[k].letter), kinds.length)} `,
          app.live
            ? button(text.partThem, () =>
                app.change({ colouring: { counterchange: "apart", choices: null } }, text.partThem),
              )
            : null,
        )
      : null,
    weakest
      ? fold(
          text.contacts(contacts.length),
          element("div", {}, app.live ? goalField(app, goal) : null, mark, table),
          box.querySelector("details")?.open ?? false,
        )
      : null,
    app.live && others.length ? notes(others) : null,
  );
}

function goalField(app, goal) {
  const properties = { min: "0", max: "100", step: "any", data: { key: "goal" }, hint: text.goalHint };
  const take = (value) => app.change({ colouring: { goal_difference: value } }, text.goal);
  return numberField(app, text.goal, goal, properties, take);
}

function showPins(app, box) {
  const { painting } = app;
  const { kinds, kind } = painting.drawing;
  const rows = painting.pins.map((pin, k) => {
    const swatch = painting.swatches[pin.swatch];
    const [first] = pin.regions;
    const letter = first === undefined ? pin.where : kinds[kind[first]].letter;
    const words = text.pin(letter, text.reaches[pin.scope], swatch?.name ?? "?", pin.regions.length);
    return element(
      "li",
      {},
      swatch ? chip(swatch) : null,
      element("span", {}, words),
      button(text.release, () => app.release(pin), {
        class: "quiet",
        "aria-label": `${text.release}: ${words}`,
        data: { key: `pin${k}` },
      }),
    );
  });
  rebuild(
    box,
    rows.length
      ? fold(text.pins(rows.length), element("ul", { class: "plain" }, ...rows), true)
      : null,
  );
}

function showView(app, box, sight) {
  const views = choice(
    Object.entries(text.views),
    sight.show.view,
    (value) => {
      sight.show.view = value;
      sight.draw();
      app.tell("view");
      showView(app, box, sight);
    },
    { data: { key: "view" } },
  );
  const warnings = app.painting.colouring.warnings[sight.show.view] ?? [];
  rebuild(
    box,
    field(text.view, views),
    app.live && warnings.length
      ? element("ul", { class: "plain" }, ...warnings.map((w) => element("li", {}, capital(w) + ".")))
      : null,
  );
}

function strip(hexes) {
  const made = element("span", { class: "strip", "aria-hidden": "true" });
  made.append(...hexes.map((hex) => square(hex, "")));
  return made;
}

function showPalettes(app, box) {
  const shipped = app.start.palettes;
  const name = app.plan.plan.palette?.name ?? "";
  const now = shipped.find((palette) => palette.name === name);
  const row = (palette) =>
    element(
      "li",
      {},
      element(
        "button",
        {
          type: "button",
          class: "palette-pick",
          title: palette.note,
          "aria-pressed": String(palette === now),
          data: { key: `palette-${palette.name}` },
          onclick: () => app.change({ palette: { name: palette.name } }, text.palette),
        },
        strip(palette.hexes),
        element("span", {}, palette.title),
      ),
    );
  rebuild(
    box,
    fold(
      [
        element("span", {}, text.paletteNow(now?.title ?? text.ownPalette(app.plan.palette.name))),
        strip(now?.hexes ?? app.painting?.swatches.map((swatch) => swatch.hex) ?? []),
      ],
      element("ul", { class: "palettes" }, ...shipped.map(row)),
      box.querySelector("details")?.open ?? false,
    ),
  );
}

// the palette edited in place

function showEditing(app, box) {
  if (!app.plan) return;
  const open = box.querySelector("details")?.open ?? false;
  const table = structuredClone(app.plan.palette);
  const { paint } = table;
  const send = (renamed = {}) =>
    app.ask("change", { settings: { palette: table }, label: text.editPalette, renamed });
  const rows = paint.map((entry, k) => {
    const colour = element("input", {
      type: "color",
      value: app.painting?.swatches[k]?.hex ?? "#888888",
      "aria-label": text.colourOf(entry.name),
      data: { key: `colour${k}` },
      onchange: () => {
        entry.colour = colour.value;
        send();
      },
    });
    const name = element("input", {
      type: "text",
      value: entry.name,
      maxLength: 60,
      "aria-label": text.nameOf(entry.name),
      data: { key: `name${k}` },
      onchange: () => {
        const before = entry.name;
        entry.name = name.value.trim() || before;
        send({ [before]: entry.name });
      },
    });
    const price = element("input", {
      type: "text",
      class: "price",
      value: Object.entries(entry.price ?? {}).map(([size, cost]) => `${cost} for ${size}`)[0] ?? "",
      placeholder: text.priceSample,
      "aria-label": text.priceOf(entry.name),
      data: { key: `price${k}` },
      onchange: () => {
        const [, cost, size] = /^([0-9]+(?:[.,][0-9]+)?)\s*(?:for|\/)\s*(.+)$/.exec(price.value.trim()) ?? [];
        if (price.value.trim() && !cost) return app.say(text.noPrice(price.value), true);
        if (cost) entry.price = { [size]: Number(cost.replace(",", ".")) };
        else delete entry.price;
        return send();
      },
    });
    const remove = button(
      text.remove,
      () => {
        paint.splice(k, 1);
        send();
      },
      { class: "quiet", "aria-label": text.removeSwatch(entry.name), disabled: paint.length < 3 },
    );
    return element("li", { class: "edit-row" }, colour, name, remove, price);
  });
  const add = button(text.addSwatch, () => {
    let n = paint.length + 1;
    while (paint.some((p) => p.name === text.newSwatch(n))) n += 1;
    paint.push({ name: text.newSwatch(n), colour: "#808080" });
    send();
  });
  const picture = fileField("image/png,image/jpeg,image/webp,image/tiff,image/bmp,image/gif", (file) =>
    app.attempt(async () => {
      const { sheet } = app;
      const found = await app.service.send("palette-from-picture?count=8", file);
      if (sheet === app.sheet) await app.change({ palette: found }, text.fromPicture);
    }),
  );
  const save = button(text.savePalette, () =>
    app.file("palette.toml", "palette.toml"),
  );
  rebuild(
    box,
    fold(
      text.editPalette,
      element(
        "div",
        {},
        element("ul", { class: "plain" }, ...rows),
        element("div", { class: "words" }, add, save),
        field(text.fromPicture, picture, text.fromPictureHint),
      ),
      open,
    ),
  );
}
