// Puts the page together: the drawing beside the headings, and one place for messages.

import { App } from "./app.js";
import { WRITTEN, button, element, focusNear, rebuild, unfocused } from "./dom.js";
import { Painting } from "./painting.js";
import { coloursPart } from "./part_colours.js";
import { colourwaysPart } from "./part_colourways.js";
import { drawingPart, fileInput, suspects } from "./part_drawing.js";
import { finishPart } from "./part_finish.js";
import { cardPart, handPart, nearerPart } from "./part_hand.js";
import { layingPart } from "./part_laying.js";
import { printPart } from "./part_print.js";
import { regionsPart } from "./part_regions.js";
import { tracePart } from "./part_trace.js";
import { pencilPart, welcomePart } from "./part_welcome.js";
import { Service } from "./service.js";
import { Sight } from "./sight.js";
import { text } from "./text.js";

const LATE = 400; // ms after which a wait is told

/** The token stands after # in the address, where browsers send it nowhere. */
function readToken() {
  const found = new URLSearchParams(location.hash.slice(1)).get("token");
  if (found) {
    sessionStorage.setItem("fillwork-token", found);
    history.replaceState(null, "", location.pathname);
  }
  return found ?? sessionStorage.getItem("fillwork-token") ?? "";
}

function connect(app, sight, box, caption) {
  app.on("drawing", (drawing) => {
    box.hidden = !app.painting; // where no line closes a region, the lines stand there
    for (const section of document.querySelectorAll("section")) section.hidden = false;
    const coloured = drawing.shapes.length > 0;
    for (const name of ["colours", "colourways", "finish"]) {
      const section = document.getElementById(name);
      if (section) section.hidden = !coloured;
    }
    box.setAttribute("aria-label", text.sightOf(drawing.file));
    document.title = `${drawing.file} – fillwork`;
  });
  app.on("colours", () => sight.load(app.painting));
  app.on("painted", (regions) => sight.repaint(regions));
  app.on("light", (kind) => sight.light(kind));
  app.on("place", (at) => sight.goTo(at));
  app.on("mending", (path) => sight.mend(path));
  // rings of places to look at belong to the parts that speak of them
  app.on("part", (name) => sight.ring(name === "drawing" || name === "regions"));
  app.on("opened", () => {
    box.hidden = true;
    for (const section of document.querySelectorAll("section:not(#drawing)")) section.hidden = true;
    document.body.classList.toggle("empty", !app.sheet);
    if (!app.sheet) document.title = "fillwork";
    window.scrollTo({ top: 0 });
  });
  const describe = (kind) => {
    const { painting } = app;
    if (kind === null || !painting?.drawing.kinds[kind]) return "";
    const { letter, name, count, share } = painting.drawing.kinds[kind];
    const swatches = painting.swatchesOf(kind).map((s) => painting.swatches[s].name);
    return text.caption(letter, name, text.kindCount(count, share), swatches);
  };
  const say = () => {
    const { view } = sight.show;
    const seen = view === "normal" ? "" : text.seenAs(text.views[view]);
    caption.textContent = [describe(sight.lit ?? sight.asked.at(-1) ?? null), seen].filter(Boolean).join(" · ");
  };
  app.on("view", say);
  app.on("light", say);
  app.on("lit", say);
  app.on("painted", say);
  app.on("colours", say);
}

function showMessages(app, box) {
  const words = element("p", { role: "status" });
  const alert = element("p", { role: "alert" });
  const work = element("div", { class: "work" });
  box.append(words, alert, work);
  app.on("message", (message) => {
    words.textContent = message.alert ? "" : message.words;
    alert.textContent = message.alert ? message.words : "";
  });
  // what is said of one part is no news in another; that something is unsaved is
  app.on("turned", () => {
    words.textContent = "";
    if (!app.unsaved) alert.textContent = "";
  });
  let [shown, late, timer] = ["", false, 0];
  const draw = () => {
    const { state, what } = app.state?.task ?? {};
    const works = state === "working";
    // an answer that is long in coming is waited for in words, too
    const now = works ? what || text.working : late ? text.working : "";
    if (now + works === shown) return;
    shown = now + works;
    rebuild(
      work,
      now ? element("span", {}, `${now} …`) : null,
      works ? button(text.cancel, () => app.attempt(() => app.service.post(`${app.sheet}/cancel`))) : null,
    );
  };
  for (const event of ["opened", "state", "settled"]) app.on(event, draw);
  app.on("busy", (busy) => {
    const wait = (long) => {
      late = long;
      draw();
    };
    clearTimeout(timer);
    if (busy) timer = setTimeout(wait, LATE, true);
    else wait(false);
  });
}

/** Headings of which one is open and marked, the rest folded into a bar on top. */
function showParts(app, box) {
  box.setAttribute("aria-label", text.parts);
  let chosen = ""; // by the person; else the page opens what comes next
  const bodies = new Map();
  for (const [name, words] of Object.entries(text.headings)) {
    const section = document.getElementById(name);
    if (!section) continue;
    section.querySelector("h2").textContent = words;
    bodies.set(name, section);
  }
  const open = (name) => {
    for (const [other, section] of bodies) {
      const here = other === name;
      section.classList.toggle("open", here);
      section.querySelector(".body").hidden = !here;
    }
    for (const link of box.children)
      if (link.hash === `#${name}`) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
    app.tell("part", name);
  };
  open("drawing");
  const here = () => [...bodies].find(([, section]) => section.classList.contains("open"))?.[0];
  const show = () => {
    const now = here();
    rebuild(
      box,
      ...Object.entries(text.headings)
        .filter(([name]) => document.getElementById(name)?.hidden === false)
        .map(([name, words]) => element("a", { href: `#${name}`, data: { key: `part-${name}` } }, words)),
    );
    open(now);
  };
  /** What had the focus may be folded away now, once all parts have heard of it. */
  const refocus = () => queueMicrotask(() => unfocused() && focusNear(box));
  app.on("opened", () => {
    chosen = "";
    open("drawing");
    show();
    refocus();
  });
  app.on("drawing", () => {
    show();
    const blank = app.drawing.shapes.length === 0;
    if (blank && here() !== "regions") open("drawing");
  });
  app.on("colours", () => {
    show();
    // a traced sheet is looked at first, and lines that may be construction
    const asked = app.live && !app.answered && suspects(app.drawing).length;
    if (!chosen && !app.state?.paper && !asked) {
      chosen = "colours";
      open(chosen);
      if (box.contains(document.activeElement)) focusNear(box);
      else refocus();
    }
  });
  const turn = (name) => {
    chosen = name;
    app.pointing = null;
    open(name);
    app.tell("turned", name);
    refocus();
    window.scrollTo({ top: 0 });
  };
  app.on("turn", turn);
  box.addEventListener("click", (event) => {
    const name = event.target.closest("a")?.hash.slice(1);
    if (!name) return;
    // the address keeps its token
    event.preventDefault();
    turn(name);
  });
}

/** Let what the page scrolls to come to lie clear of what stands still on it. */
function clearOf(top, card) {
  const { style } = document.documentElement;
  const measure = () => {
    const { position, insetBlockStart } = getComputedStyle(top);
    const stays = position === "sticky" ? parseFloat(insetBlockStart) + top.offsetHeight : 0;
    style.scrollPaddingBlockStart = `${stays + 8}px`;
    const below = !card.hidden && getComputedStyle(card).position === "fixed" ? card.offsetHeight : 0;
    style.scrollPaddingBlockEnd = `${below + 8}px`;
  };
  // not every browser scrolls clear of it when the keyboard goes backwards
  top.parentElement.addEventListener("focusin", ({ target }) => {
    if (top.contains(target) || !target.matches(":focus-visible") || getComputedStyle(top).position !== "sticky") return;
    const under = top.getBoundingClientRect().bottom + 8 - target.getBoundingClientRect().top;
    if (under > 8) scrollBy({ top: -under, behavior: "instant" });
  });
  const watch = new ResizeObserver(measure);
  for (const box of [top, card]) watch.observe(box);
}

async function begin(app) {
  if (app.single) {
    const { drawing, colouring } = app.single;
    app.drawing = drawing;
    app.painting = new Painting(drawing, colouring);
    app.tell("drawing", drawing);
    app.tell("colours");
    return;
  }
  await app.attempt(async () => {
    await app.begin();
    if (app.opening) return; // a drawing was opened meanwhile
    const last = sessionStorage.getItem("fillwork-sheet") ?? "";
    const known = app.start.last.some((sheet) => sheet.id === last);
    const id = app.start.first || (known ? last : "");
    if (id) await app.open(() => app.service.post("reopen", { id }));
  });
}

function build() {
  const data = document.getElementById("data");
  const single = data ? JSON.parse(data.textContent) : null;
  const service = single ? null : new Service(readToken(), text);
  const app = new App({ service, single });
  const box = document.getElementById("sight");
  const caption = document.getElementById("caption");
  const sight = new Sight(box, {
    weakest: () => app.weakest(),
    hover: (region) => {
      const kind = region < 0 ? null : app.painting.drawing.kind[region];
      if (kind === sight.lit) return;
      sight.light(kind);
      app.tell("lit", kind);
    },
    touch: (region, point) => app.touch(region, app.scope, point),
    short: () => app.short,
  });
  connect(app, sight, box, caption);
  showMessages(app, document.getElementById("message"));
  if (single) sight.show = { ...sight.show, defects: false, weakest: false };
  clearOf(document.getElementById("top"), document.getElementById("card"));
  const part = (name) => {
    const found = document.getElementById(name);
    return found?.querySelector(":scope > .body") ?? found;
  };
  if (!app.live) document.getElementById("colourways").remove();
  showParts(app, part("parts"));
  if (app.live) {
    document.body.classList.add("empty");
    welcomePart(app, part("welcome"), fileInput(app));
    pencilPart(app, part("pencil"));
  }
  handPart(app, part("hand"));
  nearerPart(app, part("nearer"), sight);
  cardPart(app, part("card"), sight);
  printPart(app, part("print"), sight);
  drawingPart(app, part("drawing"));
  if (app.live) tracePart(app, part("trace"), part("drawing"));
  if (app.live) layingPart(app, part("drawing"));
  regionsPart(app, part("regions"), sight);
  coloursPart(app, part("colours"), sight);
  if (app.live) colourwaysPart(app, part("colourways"));
  finishPart(app, part("finish"));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && app.pointing) {
      app.pointing = null;
      app.say("");
    }
    if (!(event.ctrlKey || event.metaKey) || event.target.matches(WRITTEN)) return;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) app.undo();
    else if (key === "y" || (key === "z" && event.shiftKey)) app.redo();
    else return;
    event.preventDefault();
  });
  // another window of the same sheet may have gone on
  window.addEventListener("focus", () => app.catchUp());
  document.addEventListener("visibilitychange", () => document.hidden || app.catchUp());
  begin(app);
}

build();
