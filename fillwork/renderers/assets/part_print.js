// What goes on paper when the page is printed: the drawing, its title, its key.

import { element, square, stem } from "./dom.js";
import { text } from "./text.js";

const WIDE = 2400; // px of the longer side

/** Keep what is printed ready: it is made when the browser is about to print. */
export function printPart(app, box, sight) {
  const make = () => {
    if (!app.painting) return;
    const { swatches } = app.painting;
    const { shares } = app.painting.measure();
    const image = sight.picture(WIDE);
    const rows = swatches.map((swatch, k) => {
      const words = text.printKey(swatch.code, swatch.name, text.percent(shares[k].share));
      return shares[k].regions ? element("li", {}, square(swatch.hex), element("span", {}, words)) : null;
    });
    box.replaceChildren(
      image,
      element("h1", {}, stem(app.painting.drawing.file).replaceAll("-", " ")),
      element("ul", {}, ...rows),
    );
  };
  window.addEventListener("beforeprint", make);
  window.addEventListener("afterprint", () => box.replaceChildren());
}
