// Under the heading Colourways: clearly different suggestions, and counterchange.

import { button, choice, element, field, rebuild, tick } from "./dom.js";
import { capital } from "./part_drawing.js";
import { text } from "./text.js";

/** Fill the part of the page about colourways; only the live page has it. */
export function colourwaysPart(app, part) {
  const found = element("div", { class: "pictures" });
  const kept = element("div", { class: "pictures" });
  const beside = element("div", { class: "beside" });
  const choices = element("div", { class: "pictures" });
  const state = { kept: [], choices: [], colours: 2 };
  const here = button(text.suggestHere, () => app.ask("suggest", { count: 6 }));
  const all = button(text.suggestAll, () =>
    app.ask("suggest", { palettes: app.start.palettes.map((p) => p.name), count: 12 }),
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
    beside,
    element("h3", {}, text.counterchange),
    element("p", {}, text.counterchangeHint),
    field(text.howMany, colours),
    element(
      "div",
      { class: "words" },
      button(text.findChoices, () => app.ask("choices", { colours: state.colours })),
      button(text.noCounterchange, () =>
        app.change({ colouring: { counterchange: null, choices: null } }, text.noCounterchange),
      ),
    ),
    choices,
  );
  const showKept = () => {
    rebuild(
      kept,
      ...state.kept.map((one) =>
        element(
          "figure",
          {},
          element("img", { src: one.address, alt: one.words }),
          element("figcaption", {}, one.words),
          tick(text.compare, one.beside, (on) => {
            one.beside = on;
            showKept();
          }),
        ),
      ),
    );
    if (!state.kept.length) kept.replaceChildren(element("p", {}, text.nothingKept));
    const two = state.kept.filter((one) => one.beside).slice(-2);
    rebuild(
      beside,
      ...(two.length === 2
        ? two.map((one) => element("img", { src: one.address, alt: one.words }))
        : []),
    );
  };
  showKept();
  app.on("opened", () => {
    state.kept = [];
    showKept();
    rebuild(found);
    rebuild(choices);
  });
  app.on("suggestions", async (list) => {
    const figures = await Promise.all(
      list.map(async (one) => {
        const address = await pictureOf(app, one.picture);
        const words = `${one.number}. ${one.palette}`;
        return element(
          "figure",
          {},
          element("img", { src: address, alt: words }),
          element("figcaption", {}, words, element("small", {}, text.measures(one))),
          element(
            "div",
            { class: "words" },
            button(text.takeUp, () => app.ask("take", { number: one.number })),
            button(text.keep, () => {
              state.kept.push({ address, words, beside: state.kept.length < 2 });
              showKept();
            }),
          ),
        );
      }),
    );
    rebuild(found, ...figures);
  });
  app.on("choices", async (list) => {
    const figures = await Promise.all(
      list.map(async (one) => {
        const words = text.choiceOf(one.letter, one.number);
        return element(
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
                    choices: { ...app.plan.plan.colouring?.choices, [one.letter]: one.number },
                  },
                },
                words,
              ),
            ),
          ),
        );
      }),
    );
    rebuild(choices, ...figures);
    if (!list.length) choices.replaceChildren(element("p", {}, text.noChoices));
  });
}

async function pictureOf(app, name) {
  return URL.createObjectURL(await app.service.blob(`${app.sheet}/pictures/${name}`));
}
