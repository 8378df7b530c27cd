// In the workshop: what the panel is, how fast it is painted, what is on hand, what alone is mended.

import { button, choice, element, field, fileField, tick } from "./dom.js";
import { numberField } from "./numbers.js";
import { fold } from "./part_drawing.js";
import { text } from "./text.js";

/** The fold with all that, open as it was in the box before. */
export function workshop(app, box) {
  const { paint = {} } = app.plan.plan;
  const set = (key, value, label) => app.change({ paint: { [key]: value } }, label);
  const words = (key) =>
    element("input", {
      type: "text",
      value: paint[key] ?? "",
      maxLength: 120,
      placeholder: text.usualOrNone,
      data: { key },
      onchange: (event) => set(key, event.target.value.trim() || null, text[key]),
    });
  const pick = (key, options) =>
    choice(options, paint[key] ?? "", (value) => set(key, value || null, text[key]), { data: { key } });
  const swatches = app.painting?.swatches ?? [];
  return fold(
    text.workshop,
    element(
      "div",
      {},
      field(text.under, pick("under", [["", text.underNone], ...swatches.map((s) => [s.name, s.name])])),
      field(text.support, pick("support", [["", text.supportUsual], ...app.start.supports.map((name) => [name, name])])),
      field(text.primer, words("primer")),
      field(text.varnish, words("varnish")),
      app.drawing?.strands ? field(text.bandsPainted, pick("bands", Object.entries(text.bandsWhen))) : null,
      tick(text.tape, paint.tape ?? false, (on) => set("tape", on || null, text.tape), { data: { key: "tape" } }),
      paceFields(app, set, paint.pace),
      onHand(app, paint),
      mendFields(app, paint.patch ?? "", set),
      element("small", {}, text.pricesHint),
    ),
    box.querySelector("details details")?.open ?? false,
  );
}

/** m² filled and m of edge cut in an hour: both, or neither. */
function paceFields(app, set, now = []) {
  const pair = [...now];
  const rows = [text.paceArea, text.paceEdge].map((words, k) => {
    const properties = { min: "0.001", step: "any", data: { key: `pace${k}` }, hint: k ? text.paceHint : "" };
    return numberField(app, words, now[k], properties, (value) => {
      pair[k] = value;
      const given = pair.filter((one) => one > 0).length;
      if (given !== 1) set("pace", given ? pair : null, text.pace);
    });
  });
  return element("fieldset", {}, element("legend", {}, text.pace), ...rows);
}

/** A file of the paints there are, from which the schedule mixes. */
function onHand(app, paint) {
  const input = fileField(".toml", (file) => app.give("on-hand", file));
  const names = (paint.on_hand?.paint ?? []).map((one) => one.name).filter(Boolean);
  return element(
    "div",
    {},
    field(text.onHand, input, text.onHandHint),
    names.length
      ? element(
          "p",
          {},
          `${text.onHandNow(names)} `,
          button(text.letGo, () => app.change({ paint: { on_hand: null } }, text.onHand), { class: "quiet" }),
        )
      : null,
  );
}

const circleOf = (patch) => /^@([-0-9.]+),([-0-9.]+)\s+r=([0-9.]+)mm$/.exec(patch) ?? [];

/** What is mended, in words. */
export function patchWords(app) {
  const patch = app.plan.plan.paint?.patch ?? "";
  const [, , , reach] = circleOf(patch);
  return reach ? text.patchCircle(reach) : patch;
}

/** The edge of a round place to mend, as a path on the drawing. */
export function patchPath(app) {
  const [, x, y, reach] = circleOf(app.plan?.plan.paint?.patch ?? "");
  if (!reach || !app.drawing) return "";
  const r = reach / app.drawing.real_scale;
  return `M${x - r} ${app.drawing.height - y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`;
}

/** A repair alone: a round place that is touched, or one kind. */
function mendFields(app, patch, set) {
  const [, x, y, r] = circleOf(patch);
  const { width = 0, height = 0, real_scale = 1 } = app.drawing ?? {};
  // until another reach is told, a place of an eighth of the shorter side
  const about = Math.max(Math.round((Math.min(width, height) * real_scale) / 8), 1);
  let wide = Number(r ?? about);
  const properties = { min: "1", step: "any", data: { key: "patch-reach" } };
  const reach = numberField(app, text.patchReach, wide, properties, (value) => {
    wide = value ?? about;
    if (x) set("patch", `@${x},${y} r=${wide}mm`, text.patch);
  });
  const point = button(
    text.patchTouch,
    () => {
      app.say(text.patchNext);
      app.pointing = ([px, py]) => {
        const at = [px, app.drawing.height - py].map((value) => Number(value.toFixed(2)));
        set("patch", `@${at} r=${wide}mm`, text.patch);
      };
    },
    { data: { key: "patch-touch" } },
  );
  const kinds = (app.drawing?.kinds ?? []).slice(0, 200).map((kind) => [kind.letter, `${kind.letter}  ${kind.name}`]);
  const kind = choice(
    [["", text.patchNoKind], ...kinds],
    x ? "" : patch,
    (value) => set("patch", value || null, text.patch),
    { data: { key: "patch-kind" } },
  );
  return element(
    "fieldset",
    {},
    element("legend", {}, text.patch),
    reach,
    element(
      "div",
      { class: "words" },
      point,
      patch ? button(text.patchNone, () => set("patch", null, text.patch), { data: { key: "patch-none" } }) : null,
    ),
    field(text.patchKind, kind),
    element("small", {}, patch ? text.patchNow(patchWords(app)) : text.patchHint),
  );
}
