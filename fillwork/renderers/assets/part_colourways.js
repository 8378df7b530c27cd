// Under the heading Colourways: clearly different suggestions, and counterchange.

import { button, choice, element, field, rebuild, tick } from "./dom.js";
import { capital } from "./part_drawing.js";
import { text } from "./text.js";

/** Fill the part of the page about colourways; only the live page has it. */
export function colourwaysPart(app, part) {
  const found = element("div", { class: "pictures" });
  const kept = element("div", { class: "pictures" });
  const beside = element("div", { id: "beside", hidden: true });
  document.getElementById("view").append(beside);
  const choices = element("div", { class: "pictures" });
  const state = { kept: [], beside: [], colours: 2 };
  const here = button(text.suggestHere, () => app.ask("suggest", { count: 6 }), { class: "main" });
  const all = button(text.suggestAll, () =>
    app.ask("suggest", { palettes: app.start.palettes.map((p) => p.name), count: app.start.palettes.length }),
  );
  const colours = choice(
    [2, 3, 4, 6].map((k) => [String(k), text.colours(k)]),
    "2",
    (value) => {
      state.colours = Number(value);
    },
  );
  part.append(
    element("p", {}, text.colourwaysHint),
    element("div", { class: "words" }, here, all),
    found,
    element("h3", {}, text.kept),
    kept,
    element("h3", {}, text.counterchange),
    element("p", {}, text.counterchangeHint),
    field(text.howMany, colours),
    element(
      "div",
      { class: "words" },
      button(text.findChoices, () => app.ask("choices", { colours: state.colours })),
      button(text.noCounterchange, () =>
        app.change({ colouring: { counterchange: "no", choices: null } }, text.noCounterchange),
      ),
    ),
    choices,
  );
  /** A picture that is pointed at, or held by the keyboard, stands large over the drawing. */
  const shownLarge = (figure) => {
    const image = figure.querySelector("img");
    const over = element("img", { id: "over", alt: "" });
    const show = () => {
      over.src = image.src;
      document.getElementById("view").append(over);
    };
    for (const event of ["pointerenter", "focusin"]) figure.addEventListener(event, show);
    for (const event of ["pointerleave", "focusout"]) figure.addEventListener(event, () => over.remove());
    return figure;
  };
  for (const event of ["turned", "opened", "colours", "suggestions"])
    app.on(event, () => document.getElementById("over")?.remove());
  const figureOf = (one, ...below) =>
    element(
      "figure",
      {},
      element("img", { src: one.address, alt: one.words }),
      element("figcaption", {}, one.words, one.measures ? element("small", {}, one.measures) : null),
      ...below,
    );
  const takeUp = (one) => {
    const take = () => {
      if (state.beside.length) lay([]);
      app.ask("take", { number: one.number });
    };
    return button(text.takeUp, take, { data: { key: `take${one.number}` } });
  };
  const lay = (two) => {
    state.beside = two;
    showKept();
  };
  const ask = (path, table) => app.attempt(() => app.service.post(`${app.sheet}/${path}`, table));
  const showKept = () => {
    const figures = state.kept.map((one) =>
        figureOf(
          one,
          tick(
            text.compare,
            state.beside.includes(one),
            (on) => {
              const others = state.beside.filter((other) => other !== one);
              // no more than the two ticked last
              lay(on ? [...others.slice(-1), one] : others);
            },
            { data: { key: `beside${one.number}` } },
          ),
          element(
            "div",
            { class: "words" },
            takeUp(one),
            button(text.letGo, () => {
              state.kept = state.kept.filter((other) => other !== one);
              ask("let-go", { number: one.number });
              lay(state.beside.filter((other) => other !== one));
            }, { data: { key: `let-go${one.number}` } }),
          ),
        ),
    );
    rebuild(kept, ...(figures.length ? figures : [element("p", {}, text.nothingKept)]));
    beside.hidden = state.beside.length !== 2;
    if (beside.hidden) return;
    const back = button(text.backToDrawing, () => lay([]));
    rebuild(beside, ...state.beside.map((one) => figureOf(one, takeUp(one))), back);
  };
  showKept();
  app.on("opened", async () => {
    [state.kept, state.beside] = [[], []];
    showKept();
    rebuild(found);
    rebuild(choices);
    const rows = app.sheet && await app.attempt(async () => pictured(app, await app.get("kept")));
    if (!rows) return;
    state.kept = rows;
    showKept();
  });
  const suggested = ({ number, address, ...measured }, place) => {
    const words = `${number}. ${measured.palette}`;
    const one = { number, address, words };
    const kept = () => state.kept.some((other) => other.number === number);
    const keep = async () => {
      if (kept() || !(await ask("keep", { number, words })) || kept()) return;
      state.kept.push(one);
      showKept();
      app.say(text.isKept(words));
    };
    const below = element("div", { class: "words" }, takeUp(one), button(text.keep, keep));
    return shownLarge(figureOf({ ...one, measures: text.measures(measured, place === 0) }, below));
  };
  app.on("suggestions", async (list) => {
    const rows = await app.attempt(() => pictured(app, list));
    if (rows) rebuild(found, ...rows.map(suggested));
  });
  const wayOf = (one) => {
    const words = one.letter ? text.choiceOf(one.letter, one.number) : text.choiceOfAll(one.number, one.letters);
    const take = () => {
      const { counterchange, choices } = app.plan.plan.colouring ?? {};
      // ways of so many colours hold beside each other; one for the whole drawing takes the place of all
      const others = counterchange !== one.colours && typeof choices === "object" ? Object.keys(choices) : [];
      const own = { ...Object.fromEntries(others.map((letter) => [letter, null])), [one.letter]: one.number };
      app.change({ colouring: { counterchange: one.colours, choices: one.letter ? own : one.number } }, words);
    };
    const below = element("div", { class: "words" }, button(text.takeUp, take));
    return shownLarge(figureOf({ address: one.address, words, measures: capital(one.sentence) }, below));
  };
  app.on("choices", async (list) => {
    const rows = await app.attempt(() => pictured(app, list));
    if (rows) rebuild(choices, ...(rows.length ? rows.map(wayOf) : [element("p", {}, text.noChoices)]));
  });
}

/** Rows, each with the address of its picture. */
function pictured(app, rows) {
  return Promise.all(rows.map(async (row) => ({ ...row, address: await app.picture(row.picture) })));
}
