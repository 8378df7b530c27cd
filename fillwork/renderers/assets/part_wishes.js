// Wishes that hold for the whole drawing: its character, how many paints, what belongs together.

import { button, element, rebuild } from "./dom.js";
import { numberField } from "./numbers.js";
import { fold } from "./part_drawing.js";
import { text } from "./text.js";

/** Fill the boxes for the character and for the other wishes. */
export function wishesPart(app, character, others) {
  app.on("plan", () => {
    showCharacter(app, character);
    showWishes(app, others);
  });
}

function showCharacter(app, box) {
  const now = app.plan.plan.colouring?.taste ?? "balanced";
  const rows = Object.entries(app.start.tastes).map(([name, words]) =>
    button(
      text.tastes[name] ?? name,
      () => app.change({ colouring: { taste: name === "balanced" ? null : name } }, text.taste),
      { class: "taste", "aria-pressed": String(name === now), title: words, data: { key: `taste-${name}` } },
    ),
  );
  rebuild(
    box,
    element("div", { class: "words", role: "group", "aria-label": text.taste }, ...rows),
    element("small", {}, text.tasteNow(app.start.tastes[now])),
  );
}

function showWishes(app, box) {
  const { most, ties = [] } = app.plan.plan.colouring ?? {};
  const properties = { min: "1", step: "1", data: { key: "most" }, hint: text.mostHint };
  const number = numberField(app, text.most, most, properties, (value) =>
    app.change({ colouring: { most: value } }, text.most),
  );
  const rows = ties.map((tie, k) => {
    const words = text.tied(tie.map((place) => named(app, place)));
    return element(
      "li",
      {},
      element("span", {}, words),
      button(
        text.release,
        () => {
          const now = app.plan.plan.colouring?.ties ?? [];
          const left = now.filter((other) => String(other) !== String(tie));
          app.change({ colouring: { ties: left.length ? left : null } }, text.ties);
        },
        { class: "quiet", "aria-label": `${text.release}: ${words}`, data: { key: `tie${k}` } },
      ),
    );
  });
  rebuild(
    box,
    fold(
      text.wishes,
      element(
        "div",
        {},
        number,
        element("p", {}, element("b", {}, text.ties), element("small", {}, text.tiesHint)),
        rows.length ? element("ul", { class: "plain" }, ...rows) : null,
      ),
      box.querySelector("details")?.open ?? false,
    ),
  );
}

function named(app, place) {
  return app.painting?.drawing.kinds.find((kind) => kind.letter === place)?.letter ?? place;
}
