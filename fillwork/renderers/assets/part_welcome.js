// What stands in the place of the drawing before there is one, and while it is searched.

import { button, element } from "./dom.js";
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
    box.hidden = true;
  });
}

/** The lines as they are read, until the colours stand. */
export function pencilPart(app, box) {
  const image = box.querySelector("svg");
  for (const event of ["opened", "colours"])
    app.on(event, () => {
      box.hidden = true;
      image.replaceChildren();
    });
  app.on("meant", (d) => {
    for (const path of image.children) path.classList.toggle("meant", Boolean(d) && path.getAttribute("d") === d);
  });
  app.on("lines", (lines) => {
    const [x, y, width, height] = lines.box;
    const least = 1e-3 * Math.max(width, height, 1e-3); // a straight line has no box
    image.setAttribute("viewBox", [x, y, Math.max(width, least), Math.max(height, least)].join(" "));
    image.setAttribute("aria-label", text.linesOf(lines.file));
    const paths = lines.paths.map((d) => {
      const path = document.createElementNS(image.namespaceURI, "path");
      path.setAttribute("d", d);
      return path;
    });
    image.replaceChildren(...paths);
    box.hidden = false;
    document.title = `${lines.file} \u2013 fillwork`;
  });
}
