// What stands in the place of the drawing before there is one, and while it is searched.

import { button, element, ringSize } from "./dom.js";
import { text } from "./text.js";

const RECENT = 6; // sheets offered again

/** One sentence, the demo's drawings as pictures, and where to drop one's own. */
export function welcomePart(app, box, choose) {
  app.on("start", (start) => {
    const demos = start.demos.map((name) => {
      const words = name.replaceAll("-", " ");
      const image = element("img", { alt: "", decoding: "async" });
      app.attempt(async () => {
        image.src = URL.createObjectURL(await app.service.blob(`demos/${name}`));
      });
      return element(
        "button",
        {
          type: "button",
          "aria-label": words,
          onclick: () => app.open(() => app.service.post("open-demo", { name })),
        },
        image,
        element("span", {}, words),
      );
    });
    const last = start.last.slice(0, RECENT).map((sheet) =>
      element(
        "li",
        {},
        button(sheet.file, () => app.open(() => app.service.post("reopen", { id: sheet.id }))),
        element("small", {}, text.when(sheet.when)),
      ),
    );
    box.replaceChildren(
      element("p", { class: "large" }, text.welcome),
      element(
        "label",
        { class: "drop" },
        element("b", {}, text.dropHere),
        element("span", {}, text.orChoose),
        choose,
      ),
      ...(last.length
        ? [element("h3", {}, text.goOn), element("ul", { class: "plain" }, ...last)]
        : []),
      demos.length ? element("h3", {}, text.orTry) : "",
      element("div", { class: "demos" }, ...demos),
    );
    box.hidden = Boolean(app.sheet);
  });
  app.on("opened", () => {
    box.hidden = Boolean(app.sheet);
  });
}

/** The lines as they are read, until the colours stand; with rings where they close no region. */
export function pencilPart(app, box) {
  const image = box.querySelector("svg");
  const drawn = (tag, properties, ...children) => {
    const made = document.createElementNS(image.namespaceURI, tag);
    for (const [name, value] of Object.entries(properties)) made.setAttribute(name, value);
    made.append(...children);
    return made;
  };
  const mended = drawn("path", { class: "meant" });
  let rings = [];
  for (const event of ["opened", "colours"])
    app.on(event, () => {
      box.hidden = true;
      image.replaceChildren();
    });
  app.on("meant", (d) => {
    for (const path of image.children) path.classList.toggle("meant", Boolean(d) && path.getAttribute("d") === d);
  });
  app.on("mending", (d) => {
    if (box.hidden) return;
    mended.setAttribute("d", d);
    image.append(mended);
  });
  app.on("place", ([x, y]) => {
    for (const { ring, at } of rings) ring.classList.toggle("shown", at[0] === x && at[1] === y);
  });
  app.on("drawing", ({ box: [, , width, height], defects }) => {
    if (box.hidden) return;
    const size = ringSize(box, width, height);
    rings = defects.map(({ at }, k) => {
      const number = drawn("text", { x: 1.2 * size, y: -1.2 * size, "font-size": 2 * size }, `${k + 1}`);
      const ring = drawn("g", { class: "ring", transform: `translate(${at})` }, drawn("circle", { r: size }), number);
      return { ring, at };
    });
    image.append(...rings.map(({ ring }) => ring));
  });
  app.on("lines", (lines) => {
    const [x, y, width, height] = lines.box;
    // room for the pen and for rings, and a straight line has no box
    const room = Math.max(width, height, 1e-3) / 12;
    image.setAttribute("viewBox", [x - room, y - room, width + 2 * room, height + 2 * room].join(" "));
    image.setAttribute("aria-label", text.linesOf(lines.file));
    image.replaceChildren(...lines.paths.map((d) => drawn("path", { d })));
    box.hidden = false;
    document.title = `${lines.file} \u2013 fillwork`;
  });
}
