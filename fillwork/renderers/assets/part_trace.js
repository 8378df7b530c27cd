// A picture of a sheet: its corners, its pen, the lines found over it, and each doubt.

import { button, choice, element, field, rebuild, ringSize, tick } from "./dom.js";
import { text } from "./text.js";

const REACH = 22; // px on the screen: a finger's half width
const GLASS = 0.04; // share of the photo that the glass shows
const SIZES = ["auto", "A6", "A5", "A4", "A3", "letter"];
// what each button of a doubt does: a list of the plan, beside being looked at
const ANSWERS = {
  "a gap that was closed": { close: null, leave: "drop" },
  "an end that stops alone": { close: "close", leave: null, none: "drop" },
  "ink that no line follows": { line: "inked", none: null },
  "a line where there is no ink": { line: null, none: "drop" },
};

/** Draw an element of the picture. */
function drawn(tag, properties = {}, ...children) {
  const made = document.createElementNS(document.querySelector("#pencil svg").namespaceURI, tag);
  for (const [name, value] of Object.entries(properties))
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else made.setAttribute(name, value);
  made.append(...children);
  return made;
}

/** Where the number of each ring stands: beside it, or farther out, clear of the other numbers. */
function numberPlaces(rings, radius, size) {
  const placed = [];
  const over = (place, others, least) =>
    others.reduce((sum, [x, y]) => sum + Math.max(0, least * radius - Math.hypot(place[0] - x, place[1] - y)), 0);
  rings.forEach(([x, y], own) => {
    const crowd = rings.filter((_, k) => k !== own);
    let best = null;
    for (let ring = 2; ring < 7; ring++)
      for (const eighth of [-1, 1, -3, 3, -2, 2, 0, 4]) {
        const [angle, far] = [(eighth * Math.PI) / 4, 1.05 * ring * radius];
        const place = [x + far * Math.cos(angle), y + far * Math.sin(angle)];
        const inside = place.every((v, k) => radius <= v && v <= size[k] - radius);
        const lost =
          over(place, placed, 2) + 0.3 * over(place, crowd, 1.8) + (inside ? 0 : 9 * radius) + 0.05 * ring * radius;
        if (!best || lost < best.lost) best = { lost, place };
      }
    placed.push(best.place);
  });
  return placed;
}

/** The photo in the place of the drawing, its controls under Drawing. */
export function tracePart(app, view, body) {
  const controls = element("div", { class: "tracing", hidden: true });
  body.prepend(controls);
  const shown = { lines: true, photo: 0.5, pen: true, pencil: true, touching: false };
  let paper = null; // as the server tells it
  let images = {}; // addresses of photo and flat sheet
  let corners = []; // as they are dragged
  let answers = new Map(); // of doubts, by number
  let part = "drawing";

  // over a panel the sheet is one cell of what is seen
  const laid = () => Boolean(app.plan?.plan.laying?.over_mm || app.plan?.plan.laying?.outline);

  const show = () => {
    view.hidden = controls.hidden = !paper || part !== "drawing" || laid();
    if (view.hidden) return;
    const lines = shown.lines && paper.trace;
    view.replaceChildren(...(lines ? sheetView() : photoView()));
    rebuild(controls, ...(lines ? sheetControls() : photoControls()));
  };

  // the photo, with its corners

  const photoView = () => {
    const [width, height] = paper.size_px;
    const image = () => drawn("image", { href: images.photo ?? "", width, height });
    const svg = drawn("svg", { viewBox: `0 0 ${width} ${height}`, role: "group", "aria-label": text.photo }, image());
    const glass = drawn("svg", { class: "glass", "aria-hidden": "true" }, image(), drawn("path"));
    const edge = drawn("polygon", { class: "edge" });
    const handles = corners.map((_, k) =>
      drawn("circle", {
        class: "corner",
        tabindex: "0",
        role: "button",
        "aria-label": text.corner(k + 1),
        onpointerdown: (event) => {
          event.target.setPointerCapture(event.pointerId);
          place(k, null);
        },
        onpointermove: (event) => {
          if (!event.target.hasPointerCapture(event.pointerId)) return;
          const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
          place(k, [at.x, at.y]);
        },
        onpointerup: () => glass.classList.remove("in-use"),
        onkeydown: (event) => {
          const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
          if (!way) return;
          event.preventDefault();
          const step = event.shiftKey ? 10 : 1;
          place(k, [corners[k][0] + step * way[0], corners[k][1] + step * way[1]]);
        },
      }),
    );
    const place = (k, at) => {
      if (at) corners[k] = [Math.min(Math.max(at[0], 0), width), Math.min(Math.max(at[1], 0), height)];
      edge.setAttribute("points", corners.join(" "));
      handles.forEach((handle, j) => {
        handle.setAttribute("cx", corners[j][0]);
        handle.setAttribute("cy", corners[j][1]);
      });
      // the corner from near, in the part of the view away from it
      const [x, y] = corners[k];
      const half = GLASS * Math.max(width, height);
      glass.setAttribute("viewBox", `${x - half} ${y - half} ${2 * half} ${2 * half}`);
      glass.lastChild.setAttribute("d", `M${x - half} ${y}H${x + half}M${x} ${y - half}V${y + half}`);
      glass.classList.add("in-use");
      glass.classList.toggle("right", x < width / 2);
    };
    svg.append(edge, ...handles);
    if (handles.length) place(0, null);
    glass.classList.remove("in-use");
    requestAnimationFrame(() => {
      const scale = svg.getScreenCTM()?.a || 1;
      for (const handle of handles) handle.setAttribute("r", REACH / scale);
    });
    return [svg, glass];
  };

  const photoControls = () => [
    element("p", {}, text.cornersHint),
    element(
      "div",
      { class: "words" },
      button(text.takeCorners, () => trace({ corners_px: corners.map((c) => c.map(Math.round)) }), { class: "main" }),
      button(text.findCorners, () => trace({ corners_px: null })),
      paper.trace ? button(text.toLines, () => turn(true)) : null,
    ),
    field(
      text.sheetSize,
      choice(
        SIZES.map((size) => [size, size === "auto" ? text.sizeAuto : size]),
        app.plan?.plan.scan?.sheet_size ?? "auto",
        (size) => trace({ sheet_size: size === "auto" ? null : size }),
      ),
    ),
  ];

  // the sheet laid flat, with the lines

  const sheetView = () => {
    const [width, height] = paper.trace.page_mm;
    const image = drawn("image", {
      href: images.flat ?? "",
      width,
      height,
      preserveAspectRatio: "none",
      opacity: shown.photo,
    });
    const lines = paper.paths.map(([layer, d]) => drawn("path", { d, class: layer }));
    for (const line of lines) {
      const pencil = line.getAttribute("class") === "pencil";
      if (!(pencil ? shown.pencil : shown.pen)) line.setAttribute("visibility", "hidden");
    }
    const size = ringSize(view, width, height);
    const middles = paper.trace.doubtful.map(({ at_mm: [x, y] }) => [x, height - y]);
    const numbers = numberPlaces(middles, size, [width, height]);
    const rings = middles.map(([x, y], k) => {
      const [across, down] = [numbers[k][0] - x, numbers[k][1] - y];
      const far = Math.hypot(across, down);
      const way = [across / far, down / far];
      const from = way.map((c) => c * size);
      const to = way.map((c) => c * (far - size));
      return drawn(
        "g",
        { class: answers.has(k) ? "ring answered" : "ring", transform: `translate(${x} ${y})` },
        drawn("circle", { r: size }),
        far > 2.5 * size ? drawn("path", { d: `M${from}L${to}` }) : "",
        drawn(
          "text",
          { x: across, y: down, "font-size": 1.6 * size, "text-anchor": "middle", "dominant-baseline": "central" },
          `${k + 1}`,
        ),
      );
    });
    const svg = drawn(
      "svg",
      {
        viewBox: `0 0 ${width} ${height}`,
        role: "img",
        "aria-label": text.linesOver,
        ...(shown.touching ? aiming([width, height]) : {}),
      },
      drawn("rect", { width, height, class: "paper" }),
      image,
      ...lines,
      ...rings,
      shown.touching ? drawn("path", { class: "aim", d: aimed([width, height].map((v) => v / 2)) }) : "",
    );
    return [svg];
  };

  const aimed = ([x, y]) => `M${x - 3} ${y}h6M${x} ${y - 3}v6`;

  /** A touch takes the pen's ink, or Enter where the arrow keys have brought the cross. */
  const aiming = (size) => {
    const at = size.map((v) => v / 2);
    return {
      class: "touching",
      tabindex: "0",
      role: "application",
      "aria-label": text.aim,
      onclick: ({ clientX, clientY, currentTarget }) =>
        touchPen(new DOMPoint(clientX, clientY).matrixTransform(currentTarget.getScreenCTM().inverse())),
      onkeydown: (event) => {
        const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1], Enter: [0, 0] }[event.key];
        if (!way) return;
        event.preventDefault();
        way.forEach((step, k) => {
          at[k] = Math.min(Math.max(at[k] + step * (event.shiftKey ? 10 : 1), 0), size[k]);
        });
        event.currentTarget.lastChild.setAttribute("d", aimed(at));
        if (event.key === "Enter") touchPen({ x: at[0], y: at[1] });
      },
    };
  };

  /** The darkest place near a touch says which ink is the final one. */
  const touchPen = async (at) => {
    const flat = element("img", { src: images.flat });
    await flat.decode();
    const canvas = element("canvas", { width: 15, height: 15 });
    const pen = canvas.getContext("2d");
    const [x, y] = [at.x / paper.trace.page_mm[0], at.y / paper.trace.page_mm[1]];
    pen.drawImage(flat, 7 - x * flat.naturalWidth, 7 - y * flat.naturalHeight);
    const { data } = pen.getImageData(0, 0, 15, 15);
    let darkest = 0;
    const sum = (k) => data[k] + data[k + 1] + data[k + 2];
    for (let k = 0; k < data.length; k += 4) if (sum(k) < sum(darkest)) darkest = k;
    const hex = [0, 1, 2].map((c) => data[darkest + c].toString(16).padStart(2, "0")).join("");
    shown.touching = false;
    trace({ pen: `#${hex}` });
  };

  const sheetControls = () => {
    const { doubtful, sure } = paper.trace;
    const slider = element("input", {
      type: "range",
      min: "0",
      max: "1",
      step: "0.05",
      value: String(shown.photo),
      oninput: () => {
        shown.photo = Number(slider.value);
        view.querySelector("image").setAttribute("opacity", slider.value);
      },
    });
    const kept = paper.paths.some(([layer]) => layer === "pencil");
    const flip = (name) => (on) => {
      shown[name] = on;
      if (name === "pencil" && on && !kept) trace({ pencil: "keep" });
      else show();
    };
    const open = doubtful.filter((_, k) => !answers.has(k)).length;
    return [
      element("p", { class: "lead" }, doubtful.length ? text.doubts(doubtful.length, sure) : text.noDoubt),
      element(
        "ol",
        { class: "doubts" },
        ...doubtful.map((doubt, k) =>
          element(
            "li",
            {},
            element("span", {}, text.doubt(doubt.what, doubt.size_mm)),
            element(
              "div",
              { class: "words" },
              ...Object.keys(ANSWERS[doubt.what] ?? { leave: null }).map((answer) =>
                button(text.answers[answer], () => answered(k, answer), {
                  "aria-pressed": String(answers.get(k) === answer),
                  class: "taste",
                  data: { key: `doubt${k}${answer}` },
                }),
              ),
            ),
          ),
        ),
      ),
      button(answers.size ? text.onWith(answers.size) : text.onToRegions, goOn, { class: "main", data: { key: "on" } }),
      open && !sure ? element("p", { class: "small" }, text.open(open)) : null,
      field(text.photoUnder, slider),
      tick(text.showPen, shown.pen, flip("pen")),
      tick(text.showPencil, kept && shown.pencil, flip("pencil")),
      tick(text.regular, app.plan?.plan.scan?.regular ?? false, (on) => trace({ regular: on || null })),
      element(
        "div",
        { class: "words" },
        button(shown.touching ? text.touchNow : text.myPen, () => {
          shown.touching = !shown.touching;
          show();
          if (shown.touching) view.firstChild.focus({ preventScroll: true });
        }, { "aria-pressed": String(shown.touching), data: { key: "pen" } }),
        paper.pen === "auto" ? null : button(text.penAuto, () => trace({ pen: null })),
        button(text.toCorners, () => turn(false)),
      ),
    ];
  };

  const answered = (k, answer) => {
    if (answers.get(k) === answer) answers.delete(k);
    else answers.set(k, answer);
    show();
  };

  /** Hand the answers over in one step, and turn to the regions. */
  const goOn = async () => {
    if (answers.size) {
      const { scan = {}, lines = {} } = app.plan?.plan ?? {};
      const lists = {
        settled: [...(scan.settled_mm ?? [])],
        inked: [...(scan.inked_mm ?? [])],
        close: [...(lines.close ?? [])],
        drop: [...(lines.drop ?? [])],
      };
      for (const [k, answer] of answers) {
        const { what, at_mm: at } = paper.trace.doubtful[k];
        lists.settled.push(at);
        const list = ANSWERS[what]?.[answer];
        if (list) lists[list].push(at);
      }
      const some = (list) => (list.length ? list : null);
      const settings = {
        scan: { settled_mm: lists.settled, inked_mm: some(lists.inked) },
        lines: { close: some(lists.close), drop: some(lists.drop) },
      };
      await app.change(settings, text.doubtsAnswered);
      if (app.state?.task.state === "failed") return;
    }
    app.tell("turn", "regions");
  };

  const turn = (lines) => {
    shown.lines = lines;
    show();
    document.getElementById("drawing").scrollIntoView();
  };

  const trace = async (scan) => {
    shown.lines = true;
    await app.change({ scan }, text.traced);
  };

  let seen = "";
  const fetchPaper = () =>
    app.attempt(async () => {
      const asked = seen;
      const found = await app.get("paper");
      if (asked !== seen) return;
      // answers and corners that are not handed over yet stay where nothing about them is new
      const unlike = (part) => JSON.stringify(part(found)) !== JSON.stringify(paper && part(paper));
      if (unlike(({ trace }) => trace?.doubtful)) answers = new Map();
      if (unlike(({ corners_px }) => corners_px)) {
        const [width, height] = found.size_px;
        const inside = [[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]].map(([x, y]) => [x * width, y * height]);
        corners = (found.corners_px.length ? found.corners_px : inside).map((c) => [...c]);
      }
      paper = found;
      const photo = images.photo ?? (await app.picture("photo"));
      const flat = found.trace ? await app.picture("flat") : undefined;
      if (asked !== seen) return;
      if (images.flat) URL.revokeObjectURL(images.flat);
      images = { photo, flat };
      show();
    });

  app.on("opened", () => {
    paper = null;
    images = {};
    seen = "";
    shown.lines = true;
    show();
  });
  app.on("state", (state) => {
    if (!state.paper) return;
    // the photo stands there at once, the lines when they are traced
    const now = `${state.id} ${state.revision.lines} ${state.revision.plan}`;
    if (now === seen) return;
    seen = now;
    fetchPaper();
  });
  app.on("plan", show);
  app.on("part", (name) => {
    part = name;
    show();
  });
}
