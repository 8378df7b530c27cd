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
    const { sheet } = app;
    [state.kept, state.beside] = [[], []];
    showKept();
    rebuild(found);
    rebuild(choices);
    const rows = (await app.attempt(() => app.service.get(`${sheet}/kept`))) ?? [];
    for (const row of rows) {
      const address = await pictureOf(app, row.picture);
      if (app.sheet !== sheet) return;
      state.kept.push({ ...row, address });
    }
    showKept();
  });
  app.on("suggestions", async (list) => {
    const figures = await Promise.all(
      list.map(async ({ number, picture, ...measured }, place) => {
        const address = await pictureOf(app, picture);
        const words = `${number}. ${measured.palette}`;
        const one = { number, address, words };
        return shownLarge(figureOf(
          { ...one, measures: text.measures(measured, place === 0) },
          element(
            "div",
            { class: "words" },
            takeUp(one),
            button(text.keep, async () => {
              if (state.kept.some((other) => other.number === number)) return;
              if (!(await ask("keep", { number, words }))) return;
              state.kept.push(one);
              showKept();
              app.say(text.isKept(words));
            }),
          ),
        ));
      }),
    );
    rebuild(found, ...figures);
  });
  app.on("choices", async (list) => {
    const figures = await Promise.all(
      list.map(async (one) => {
        const words = one.letter
          ? text.choiceOf(one.letter, one.number)
          : text.choiceOfAll(one.number, one.letters);
        const before = app.plan.plan.colouring?.choices;
        // a way for the whole drawing takes the place of all others
        const choices = one.letter
          ? { ...(typeof before === "object" ? before : {}), [one.letter]: one.number }
          : one.number;
        return shownLarge(element(
          "figure",
          {},
          element("img", { src: await pictureOf(app, one.picture), alt: words }),
          element("figcaption", {}, words, element("small", {}, capital(one.sentence))),
          element(
            "div",
            { class: "words" },
            button(text.takeUp, () =>
              app.change(
                {
                  colouring: {
                    counterchange: one.colours,
                    choices,
                  },
                },
                words,
              ),
            ),
          ),
        ));
      }),
    );
    rebuild(choices, ...(figures.length ? figures : [element("p", {}, text.noChoices)]));
  });
}

async function pictureOf(app, name) {
  return URL.createObjectURL(await app.service.blob(`${app.sheet}/pictures/${name}`));
}
