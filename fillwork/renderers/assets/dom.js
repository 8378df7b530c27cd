// Small helpers to build the page. Data only ever becomes text, never markup.

/** Build an element; properties that begin with "on" are listeners. */
export function element(tag, properties = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "class") made.className = value;
    else if (name === "data") Object.assign(made.dataset, value);
    else if (name in made && name !== "list") made[name] = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

const RING = 8; // px

const REACHED = "a[href], button, input, select, summary, [tabindex='0']";

/** What a person writes in. */
export const WRITTEN = "input[type=text], input[type=number], textarea";

const writing = new Set(); // fields that hold what is not handed over yet
const waiting = new Map(); // by container, what it holds once that is done

document.addEventListener("input", ({ target }) => target.matches(WRITTEN) && writing.add(target), true);
for (const event of ["change", "focusout"])
  document.addEventListener(event, ({ target }) => written(target), true);

/** What a field holds is handed over, or given up: what waited for it is built. */
export function written(input) {
  if (!writing.delete(input)) return;
  for (const [container, children] of waiting) {
    if (!container.contains(input)) continue;
    waiting.delete(container);
    queueMicrotask(() => waiting.has(container) || rebuild(container, ...children));
  }
}

/** Whether something is seen: neither hidden, nor folded away, nor taken off the page. */
function seen(one) {
  return one.isConnected && (one.checkVisibility?.({ visibilityProperty: true }) ?? one.getClientRects().length > 0);
}

/** The controls of a container that the keyboard comes to, in their order. */
function controls(container) {
  return [...container.querySelectorAll(REACHED)].filter((one) => !one.disabled && seen(one));
}

/** Rebuild what a container holds; the focus stays in its place, or goes to what stands there now. */
export function rebuild(container, ...children) {
  const active = document.activeElement;
  const held = container !== active && container.contains(active);
  // nothing that is being written is taken away under the hand
  if (held && writing.has(active)) return void waiting.set(container, children);
  waiting.delete(container);
  const at = held ? controls(container).indexOf(active) : -1;
  const key = held ? active.dataset.key : undefined;
  // who works with a pointer looks elsewhere: nothing moves under it
  const how = { preventScroll: held && !active.matches(":focus-visible") };
  container.replaceChildren(...children.filter((child) => child));
  if (!held) return;
  const now = controls(container);
  const same = key && now.find((one) => one.dataset.key === key);
  // a field to write in is entered on purpose: on a phone it brings the keyboard up
  const near = now.map((one, k) => [one, Math.abs(k - at)]).filter(([one]) => !one.matches(WRITTEN));
  const next = same || near.sort((p, q) => p[1] - q[1])[0]?.[0];
  if (next) next.focus(how);
  else focusNear(container);
}

/** Give the focus to the nearest control about a place that has none any more. */
export function focusNear(place) {
  for (let about = place; about; about = about.parentElement) {
    const all = controls(about);
    const next = all.find((one) => one.matches("[aria-current]")) ?? all[0];
    if (next) return next.focus();
  }
  return undefined;
}

/** Whether what has the focus is seen no more. */
export function unfocused() {
  const { activeElement: active } = document;
  return Boolean(active) && active !== document.body && !seen(active);
}

/** Make a list one stop for the keyboard: arrows go up and down its rows, and along a row; `home` keeps the place. */
export function rove(list, home) {
  const rows = [...list.children].map((row) => [...row.querySelectorAll("button")]).filter((row) => row.length);
  const stop = (one) => {
    for (const other of rows.flat()) other.tabIndex = other === one ? 0 : -1;
  };
  const find = (one) => [rows.findIndex((row) => row.includes(one)), rows.find((row) => row.includes(one))?.indexOf(one)];
  stop(rows.flat().find((one) => one.dataset.key === home.key) ?? rows[0]?.[0]);
  list.addEventListener("focusin", ({ target }) => {
    if (find(target)[0] < 0) return;
    home.key = target.dataset.key;
    stop(target);
  });
  list.addEventListener("keydown", (event) => {
    const [at, along] = find(event.target);
    if (at < 0 || event.ctrlKey || event.metaKey || event.altKey) return;
    const aim = {
      ArrowDown: [at + 1, along], ArrowUp: [at - 1, along],
      // lists may stand in columns: at a row's end on to the next
      ArrowRight: along + 1 < rows[at].length ? [at, along + 1] : [at + 1, 0],
      ArrowLeft: along || !at ? [at, along - 1] : [at - 1, Infinity],
      Home: [0, 0], End: [rows.length - 1, 0],
    }[event.key];
    if (!aim) return;
    event.preventDefault();
    const row = rows[Math.min(Math.max(aim[0], 0), rows.length - 1)];
    row[Math.min(Math.max(aim[1], 0), row.length - 1)].focus();
  });
}

/** A button that is named by its words. */
export function button(words, press, properties = {}) {
  return element("button", { type: "button", onclick: press, ...properties }, words);
}

/** A square of a paint's colour, beside which its number or name stands. */
export function square(hex, name = "swatch") {
  const made = element("i", { class: name, "aria-hidden": "true" });
  made.style.backgroundColor = hex;
  return made;
}

/** How large a ring is over a picture of so many mm: a sixtieth of it, but to be seen on a small screen. */
export function ringSize(box, width, height) {
  const px = Math.min(box.clientWidth / width, box.clientHeight / height);
  return Math.max(Math.max(width, height) / 60, px > 0 ? RING / px : 0);
}

/** A label with its control. */
export function field(words, control, hint = "") {
  return element(
    "label",
    { class: "field" },
    element("span", {}, words),
    control,
    hint ? element("small", {}, hint) : null,
  );
}

/** A control for a file, which may be chosen again after it was saved anew. */
export function fileField(accept, take, properties = {}) {
  const input = element("input", {
    type: "file",
    accept,
    onchange: () => {
      const [file] = input.files;
      input.value = ""; // the browser says nothing when the same file is chosen again
      if (file) take(file);
    },
    ...properties,
  });
  return input;
}

/** A list to choose one from; the options are pairs of value and words. */
export function choice(options, value, change, properties = {}) {
  const made = element(
    "select",
    { onchange: () => change(made.value), ...properties },
    ...options.map(([v, words]) => element("option", { value: v }, words)),
  );
  made.value = value;
  return made;
}

/** A box to tick, with its words. */
export function tick(words, checked, change, properties = {}) {
  const box = element("input", {
    type: "checkbox",
    checked,
    onchange: () => change(box.checked),
    ...properties,
  });
  return element("label", { class: "tick" }, box, element("span", {}, words));
}

/** Two groups: beside each other where there is room, else one below the other. */
export function halves(one, two) {
  return element("div", { class: "halves" }, element("div", {}, ...one), element("div", {}, ...two));
}

/** The name of a file without its suffix. */
export function stem(file) {
  return file.replace(/\.[a-z0-9]{2,5}$/i, "");
}

/** Hand bytes to the person as a file. */
export function hand(blob, name) {
  const address = URL.createObjectURL(blob);
  const link = element("a", { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}
