// Under the heading Finish: paper, sheets page by page, the schedule, all files.

import { button, choice, element, field, fileField, focusNear, halves, hand, rebuild, stem, tick } from "./dom.js";
import { numberField } from "./numbers.js";
import { fold } from "./part_drawing.js";
import { patchPath, patchWords, workshop } from "./part_workshop.js";
import { text } from "./text.js";

/** Fill the part of the page about sheets, schedule and files. */
export function finishPart(app, part) {
  if (!app.live) return handOn(app, part);
  const settings = element("div");
  const more = element("div");
  const preview = element("div", { class: "preview" });
  const schedule = element("div");
  const files = element("div");
  let asked = {}; // which of the sheets were laid out last
  const layOut = (which) => {
    asked = which;
    app.ask("pages", which);
  };
  part.append(
    halves(
      [settings, element("div", { class: "words" }, button(text.showSheets, () => layOut({}))), preview, more],
      [
        schedule,
        element("h3", {}, text.files),
        element("p", {}, text.filesHint),
        element("div", { class: "words" }, button(text.makeFiles, () => app.ask("files"), { class: "main" })),
        files,
        planFiles(app),
      ],
    ),
  );
  let here = false;
  const showPatch = () => app.painting && app.tell("mending", here ? patchPath(app) : "");
  app.on("part", (name) => {
    here = name === "finish";
    showPatch();
  });
  app.on("plan", () => {
    if (!app.plan) return;
    showSheetSettings(app, settings, more);
    showPatch();
  });
  let times = 0; // how often the schedule was asked for: an earlier one may come later
  app.on("colours", async () => {
    const open = schedule.querySelector("details")?.open ?? false;
    times += 1;
    const now = times;
    const table = await app.attempt(() => app.get("schedule"));
    if (!table || now !== times) return;
    rebuild(
      schedule,
      element("h3", {}, text.schedule),
      button(text.seeLarge, () => layOut({ only: "schedule" }), { data: { key: "schedule" } }),
      fold(text.asText, element("pre", { tabindex: "0" }, table.text), open),
    );
  });
  app.on("pages", (titles) => {
    // a sheet that lies there while something is changed is laid out again as it is now
    if (!titles.length && document.getElementById("large")) return app.ask("pages", asked);
    return showPages(app, preview, titles);
  });
  // who goes on to something else sees the drawing again
  for (const event of ["turned", "opened"]) app.on(event, unlay);
  document.addEventListener("keydown", (event) => event.key === "Escape" && unlay());
  app.on("files", (list) => showFiles(app, files, list));
  return undefined;
}

function showSheetSettings(app, box, more) {
  const { sheets = {}, paint = {} } = app.plan.plan;
  const set = (key, value) => app.change({ sheets: { [key]: value } }, text.sheetSettings);
  const wanted = () => app.plan.plan.sheets?.sheets ?? ["numbered"];
  const kinds = app.start.sheets.map((name) =>
    tick(
      text.sheets[name] ?? name,
      wanted().includes(name),
      (on) => set("sheets", app.start.sheets.filter((n) => (n === name ? on : wanted().includes(n)))),
      { data: { key: `sheet-${name}` } },
    ),
  );
  const paper = choice(
    app.start.papers.flatMap((name) =>
      name === "drawing"
        ? [[name, text.paperDrawing]]
        : [
            [name, text.turned(name)],
            [`${name}-landscape`, text.landscape(name)],
          ],
    ),
    sheets.paper ?? "A4",
    (value) => set("paper", value),
    { data: { key: "paper" } },
  );
  const truth = (key) =>
    tick(text[key], sheets[key] ?? false, (on) => set(key, on), { data: { key } });
  const number = (words, group, key, value, most, hint) =>
    numberField(app, words, value, { min: "1", max: String(most), step: "1", data: { key }, hint }, (given) =>
      app.change({ [group]: { [key]: given } }, words),
    );
  const spare = { min: "0", max: "1000", step: "any", data: { key: "spare" } };
  const percent = numberField(app, text.spare, Math.round((paint.spare ?? 0.15) * 100), spare, (given) =>
    app.change({ paint: { spare: given === null ? null : given / 100 } }, text.spare),
  );
  const words = (key, group, value, sample) => {
    const input = element("input", {
      type: "text",
      value,
      maxLength: 120,
      placeholder: sample,
      data: { key },
      onchange: () => app.change({ [group]: { [key]: input.value.trim() || null } }, text[key]),
    });
    return input;
  };
  rebuild(
    box,
    field(text.title, words("title", "sheets", sheets.title ?? "", text.titleSample)),
    field(text.paper, paper),
    element(
      "fieldset",
      {},
      element("legend", {}, text.whichSheets),
      ...kinds,
    ),
    field(
      text.fit,
      choice(Object.entries(text.fits), sheets.fit ?? "auto", (value) => set("fit", value), {
        data: { key: "fit" },
      }),
    ),
    truth("mirror"),
    truth("hatch"),
    tick(
      text.teach,
      Boolean(sheets.teach),
      // at true scale a class set of a large panel would take hundreds of pages
      (on) => app.change({ sheets: on ? { teach: 1, fit: "page" } : { teach: 0 } }, text.sheetSettings),
      { data: { key: "teach" } },
    ),
    sheets.teach
      ? number(text.pupils, "sheets", "teach", Number(sheets.teach), 200)
      : null,
    sheets.teach && sheets.fit === "page" ? element("small", {}, text.fitToo) : null,
    paint.patch ? element("p", { class: "short" }, text.patchNow(patchWords(app))) : null,
  );
  rebuild(
    more,
    fold(
      text.moreSettings,
      element(
        "div",
        {},
        number(text.copies, "sheets", "copies", sheets.copies ?? 1, 200),
        number(text.coats, "paint", "coats", paint.coats, 50, text.coatsHint),
        percent,
        workshop(app, more),
      ),
      more.querySelector("details")?.open ?? false,
    ),
  );
}

function showPages(app, box, titles) {
  if (!titles.length) return rebuild(box);
  let at = 0;
  const image = element("img", { alt: "" });
  const see = () => image.isConnected || lay(image);
  const words = element("p", { "aria-live": "polite" });
  const back = button(text.pageBack, () => turn(-1));
  const forth = button(text.pageForth, () => turn(1));
  let address = "";
  const turn = async (step) => {
    at = Math.min(Math.max(at + step, 0), titles.length - 1);
    const pressed = [back, forth].includes(document.activeElement);
    back.disabled = at === 0;
    forth.disabled = at === titles.length - 1;
    // who has come to the last page can go back, and the other way round
    if (pressed && document.activeElement.disabled) (back.disabled ? forth : back).focus();
    words.textContent = text.pageOf(at + 1, titles.length, titles[at]);
    image.alt = titles[at];
    const asked = at;
    const blob = await app.attempt(() => app.blob(`pages/${asked}`));
    if (!blob || asked !== at) return;
    URL.revokeObjectURL(address);
    address = URL.createObjectURL(blob);
    image.src = address;
    // who comes back to the sheet another day sees the drawing first
    if (document.getElementById("finish").classList.contains("open")) see();
  };
  const ends = [
    button(text.pageFirst, () => turn(-at)),
    button(text.pageLast, () => turn(titles.length - 1 - at)),
  ];
  rebuild(
    box,
    element("div", { class: "words" }, back, forth, ...(titles.length > 3 ? ends : []), button(text.pageLarge, see)),
    words,
  );
  return turn(0);
}

/** Lay something over the drawing, with a way back. */
function lay(content) {
  const box = element("div", { id: "large" }, button(text.backToDrawing, unlay), content);
  document.getElementById("large")?.remove();
  document.getElementById("view").append(box);
}

/** Take it away again; who was in it goes on with the sheets. */
function unlay() {
  const large = document.getElementById("large");
  const held = large?.contains(document.activeElement);
  large?.remove();
  if (held) focusNear(document.querySelector("#finish .preview"));
}

function showFiles(app, box, list) {
  const get = (path, name) => () => app.file(path, name);
  const rows = list.map((file) =>
    element(
      "li",
      {},
      button(file.name, get(`files/${encodeURIComponent(file.name)}`, file.name)),
      element("small", {}, text.size(file.size)),
    ),
  );
  rebuild(
    box,
    ...(rows.length
      ? [
          element("ul", { class: "plain" }, ...rows),
          element("div", { class: "words" }, button(text.allFiles, get("all.zip", `${stem(app.drawing.file)}.zip`))),
        ]
      : []),
  );
}

function planFiles(app) {
  const input = fileField(".toml", (file) => app.give("open-plan", file));
  return element(
    "div",
    {},
    element("h3", {}, text.plan),
    element("p", {}, text.planHint),
    element(
      "div",
      { class: "words" },
      button(text.savePlan, () => app.file("plan.toml", "plan.toml")),
    ),
    field(text.openPlan, input),
  );
}

/** What the single file offers: print, and its plan to give back. */
function handOn(app, part) {
  part.append(
    element("p", {}, text.handOnHint),
    element(
      "div",
      { class: "words" },
      button(text.print, () => window.print()),
      button(text.savePlan, () => {
        const words = app.painting.plan(app.single.plan);
        hand(new Blob([words], { type: "application/toml" }), "plan.toml");
      }),
    ),
  );
}
