// What is in hand, the way back, and what a touch asks about: always in sight.

import { button, choice, element, rebuild, square, tick } from "./dom.js";
import { chip } from "./part_regions.js";
import { text } from "./text.js";

/** Fill the line with the paint in hand, undo and redo. */
export function handPart(app, box) {
  let shown = "";
  const draw = () => {
    const { painting, state } = app;
    box.hidden = !painting;
    if (!painting) return;
    const back = app.live ? state?.undo : painting.past.length > 0;
    const forth = app.live ? state?.redo : painting.future.length > 0;
    const named = (words, label) => (typeof label === "string" ? `${words}: ${label}` : words);
    const swatch = painting.swatches[app.chosen];
    // a button that is made anew while it is pressed would not be heard
    const now = JSON.stringify([back, forth, swatch]);
    if (now === shown) return;
    shown = now;
    rebuild(
      box,
      button(text.undo, () => app.undo(), {
        disabled: !back,
        title: named(text.undo, back),
        data: { key: "undo" },
      }),
      button(text.redo, () => app.redo(), {
        disabled: !forth,
        title: named(text.redo, forth),
        data: { key: "redo" },
      }),
      swatch ? chip(swatch) : null,
      element("span", { class: "held" }, swatch ? swatch.name : text.nothingHeld),
      swatch
        ? button(text.putDown, () => app.choose(app.chosen), { class: "quiet", data: { key: "down" } })
        : null,
    );
  };
  for (const event of ["opened", "drawing", "colours", "chosen", "painted", "state"]) app.on(event, draw);
}

/** Buttons on the drawing that bring it nearer, and back. */
export function nearerPart(app, box, sight) {
  const tool = (sign, words, press) =>
    button(sign, press, { "aria-label": words, title: words });
  box.append(
    tool("+", text.closer, () => sight.zoom(1.4)),
    tool("\u2212", text.farther, () => sight.zoom(1 / 1.4)),
    button(text.fitView, () => sight.fit()),
  );
  app.on("colours", () => {
    box.hidden = false;
  });
  app.on("opened", () => {
    box.hidden = true;
  });
}

/** What a touch with no paint in hand tells: the kind, and the paints for it. */
export function cardPart(app, box, sight) {
  let opener = null;
  let gathering = false; // whether each touch adds a kind
  const gathered = new Map(); // kind: a region of it
  const close = () => {
    if (box.hidden) return;
    const held = box.contains(document.activeElement);
    box.hidden = true;
    app.touched = -1;
    gathered.clear();
    gathering = false;
    sight.light(null);
    sight.ask([]);
    app.tell("view");
    if (held) document.querySelector(`[data-key="${opener}"]`)?.focus();
  };
  /** Go on to the next region, or set of copies, of the kind that is asked about. */
  const next = () => {
    const { drawing, classes } = app.painting;
    const own = classes.kind.get(drawing.kind[app.touched]);
    const part = (r) => drawing[app.scope][r];
    const parts = [...new Set(own.map(part))];
    const after = parts[(parts.indexOf(part(app.touched)) + 1) % parts.length];
    app.touched = own.find((r) => part(r) === after);
    app.tell("place", drawing.places[app.touched].slice(0, 2));
    draw();
  };
  /** How far the touch reaches, where that makes a difference here. */
  const reaches = (painting, touched) => {
    const sizes = Object.keys(text.reaches).map((scope) => [scope, painting.reach(touched, scope).length]);
    const unlike = sizes.filter(([scope, size], k) => scope === app.scope || !k || size !== sizes[k - 1][1]);
    if (unlike.length < 2) return null;
    const named = ([scope, size]) => [scope, text.reachOf(scope, size, painting.drawing.strands)];
    return choice(unlike.map(named), app.scope, (scope) => app.reach(scope), {
      "aria-label": text.reach,
      data: { key: "reach" },
    });
  };
  const draw = () => {
    const { painting, touched } = app;
    if (!painting || touched < 0) {
      close();
      return;
    }
    const { drawing, swatches } = painting;
    const k = drawing.kind[touched];
    const kind = drawing.kinds[k];
    if (!gathering) gathered.clear();
    gathered.set(k, touched);
    const several = gathered.size > 1;
    const letters = [...gathered.keys()].map((one) => drawing.kinds[one].letter);
    const reach = [...gathered.values()].flatMap((one) => painting.reach(one, app.scope));
    const borne = new Set([...gathered.values()].map((one) => painting.swatch[one]));
    const now = painting.swatch[touched];
    const paints = swatches.map((swatch, s) => {
      return element(
        "button",
        {
          type: "button",
          class: "give",
          "aria-pressed": String(borne.size === 1 && s === now),
          "aria-label": text.giveKind(letters.join(", "), swatch.name),
          title: swatch.name,
          data: { key: `give${s}` },
          onclick: () => {
            for (const one of gathered.values()) app.paint(one, app.scope, s);
            app.touched = touched;
            draw();
          },
        },
        square(painting.colouring.palette.views.normal[s]),
        element("small", {}, swatch.code),
      );
    });
    sight.ask([...gathered.keys()]);
    app.tell("view");
    const fresh = box.hidden;
    box.hidden = false;
    rebuild(
      box,
      element(
        "p",
        {},
        element("b", {}, `${letters.join(", ")} `),
        several ? "" : kind.name,
        element("small", {}, text.touchedNow([...borne].map((s) => swatches[s]?.name), reach.length, several ? text.scopesOfAll[app.scope] : text.scopes[app.scope])),
      ),
      element("div", { class: "gives" }, ...paints),
      several ? null : reaches(painting, touched),
      element(
        "div",
        { class: "words" },
        tick(
          text.several,
          gathering,
          (on) => {
            gathering = on;
            draw();
          },
          { data: { key: "several" } },
        ),
        app.scope === "kind" || several
          ? null
          : button(text.nextOfKind, () => next(), { data: { key: "next-of-kind" } }),
        several && app.live
          ? button(text.together, () => {
              const ties = [...(app.plan.plan.colouring?.ties ?? []), letters];
              app.change({ colouring: { ties } }, text.ties);
              close();
            }, { data: { key: "together" } })
          : null,
        button(text.closeCard, close, { class: "quiet", data: { key: "close-card" } }),
      ),
    );
    // who came by keyboard goes on there, and comes back
    const from = document.activeElement;
    if (!fresh || !from?.matches(".kind, #sight:focus-visible")) return;
    opener = from.dataset.key;
    box.querySelector(`[data-key="give${now}"]`)?.focus();
  };
  for (const event of ["touched", "colours", "scope"]) app.on(event, draw);
  for (const event of ["chosen", "opened", "drawing", "turned"]) app.on(event, close);
  box.addEventListener("keydown", (event) => event.key === "Escape" && close());
}
