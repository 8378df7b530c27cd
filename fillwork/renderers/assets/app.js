// What the parts of the page share: the painting, what is chosen, and what to tell.

import { Painting } from "./painting.js";
import { Failure } from "./service.js";
import { speakHere, text } from "./text.js";

/** One sheet of work; the parts listen to it. */
export class App {
  constructor({ service = null, single = null }) {
    this.service = service;
    this.single = single;
    this.listeners = new Map();
    this.sheet = null;
    this.painting = null;
    this.chosen = -1; // no paint in hand
    this.touched = -1;
    this.scope = "kind";
    this.state = null;
    this.plan = null;
    this.revision = {};
    this.following = null;
    this.busy = 0;
    this.pointing = null; // takes the next place that is touched
  }

  get live() {
    return this.service !== null;
  }

  on(event, listener) {
    if (!this.listeners.has(event)) this.listeners.set(event, []);
    this.listeners.get(event).push(listener);
  }

  tell(event, value) {
    for (const listener of this.listeners.get(event) ?? []) listener(value);
  }

  say(words, alert = false) {
    this.tell("message", { words, alert });
  }

  /** Run something that may fail, and say so if it does; meanwhile the page is busy. */
  async attempt(action) {
    this.busy += 1;
    document.body.setAttribute("aria-busy", "true");
    try {
      return await action();
    } catch (error) {
      if (!(error instanceof Failure)) throw error;
      const { message: what, where, mend, away } = error;
      this.complain({ what, where, mend });
      if (away && this.unsaved) this.say(`${what}. ${text.unsaved(this.unsaved)} ${text.toMend(mend)}`, true);
      return undefined;
    } finally {
      this.busy -= 1;
      if (!this.busy) document.body.removeAttribute("aria-busy");
    }
  }

  complain({ what, where, mend }) {
    const here = speakHere(mend ?? "");
    this.say([where, what].filter(Boolean).join(": ") + (here ? `. ${text.toMend(here)}` : ""), true);
  }

  // whether lines that look like construction are known to belong to the drawing

  get answered() {
    return localStorage.getItem(`fillwork-belongs-${this.sheet}`) !== null;
  }

  answer() {
    localStorage.setItem(`fillwork-belongs-${this.sheet}`, "1");
  }

  // live work

  /** Take a sheet up and show it when it is ready. */
  async open(request) {
    await this.attempt(async () => {
      const { id } = await request();
      this.sheet = id;
      this.revision = {};
      this.painting = null;
      this.plan = null;
      sessionStorage.setItem("fillwork-sheet", id);
      this.say("");
      document.getElementById("large")?.remove();
      this.tell("opened");
      await this.follow();
      await this.#sendWaiting(id);
    });
  }

  // touches that are not known to be saved wait in the browser, by sheet

  #waiting(sheet) {
    return JSON.parse(localStorage.getItem(`fillwork-waiting-${sheet}`) ?? "[]");
  }

  #hold(sheet, rows) {
    const key = `fillwork-waiting-${sheet}`;
    if (rows.length) localStorage.setItem(key, JSON.stringify(rows));
    else localStorage.removeItem(key);
    if (sheet === this.sheet && !rows.length) this.unsaved = 0;
  }

  /** Send what an earlier start of the server did not save. */
  async #sendWaiting(sheet) {
    const rows = this.#waiting(sheet);
    if (!rows.length) return;
    for (const row of rows) await this.service.post(`${sheet}/paint`, row);
    await this.follow();
    this.#hold(sheet, []);
    this.say(text.sent(rows.length));
  }

  /** Send a touch; until it is saved it waits. */
  async #send(touch) {
    const { sheet } = this;
    const mark = { ...touch, mark: `${Date.now()}-${Math.random()}` };
    this.#hold(sheet, [...this.#waiting(sheet), mark]);
    const done = () => this.#hold(sheet, this.#waiting(sheet).filter((row) => row.mark !== mark.mark));
    await this.attempt(async () => {
      try {
        await this.service.post(`${sheet}/paint`, touch);
        await this.follow();
        done();
      } catch (error) {
        if (!error.away) done(); // refused: it would be refused again
        else this.unsaved = this.#waiting(sheet).length;
        throw error;
      }
    });
  }

  /** Ask the sheet for something, and follow what it does. */
  async ask(path, table = {}) {
    if (!this.sheet) return;
    await this.attempt(async () => {
      if (path !== "paint") this.say("");
      await this.service.post(`${this.sheet}/${path}`, table);
      const state = await this.follow();
      const done = text.done[path];
      if (done && state.task.state === "idle") this.say(done);
    });
  }

  change(settings, label, renamed = {}) {
    return this.ask("change", { settings, label, renamed });
  }

  /** Take up what another window of the same sheet did meanwhile. */
  async catchUp() {
    if (!this.live || !this.sheet || !this.painting || this.busy) return;
    try {
      await this.follow();
    } catch (error) {
      if (!(error instanceof Failure)) throw error; // who is away is told at the next touch
    }
  }

  /** Wait for the sheet's work, then fetch what is new. */
  follow() {
    this.again = Boolean(this.following);
    this.following ??= this.#follow().finally(() => {
      this.following = null;
    });
    return this.following;
  }

  async #follow() {
    let state;
    do {
      this.again = false;
      state = await this.service.settle(this.sheet, (now) => {
        this.state = now;
        this.tell("state", now);
        this.#fetchLines(now.revision);
      });
    } while (this.again);
    await this.#fetch(state.revision);
    const { state: how, error } = state.task;
    if (how === "failed" && error) this.complain(error);
    if (how === "cancelled") this.say(text.cancelled);
    this.tell("settled", state);
    return state;
  }

  /** The lines stand there before any search; nobody waits for them. */
  async #fetchLines(revision) {
    if (this.painting || revision.lines === this.revision.lines || !revision.lines) return;
    this.revision.lines = revision.lines;
    const sheet = this.sheet;
    const lines = await this.attempt(() => this.service.get(`${sheet}/lines`));
    if (lines && sheet === this.sheet && !this.painting) this.tell("lines", lines);
  }

  async #fetch(revision) {
    const sheet = this.sheet;
    const fresh = (name) => revision[name] !== this.revision[name] && revision[name] > 0;
    const get = (name) => this.service.get(`${sheet}/${name}`);
    if (fresh("plan")) this.plan = await get("plan");
    if (fresh("drawing")) {
      this.drawing = await get("drawing");
      this.painting = null;
      this.tell("drawing", this.drawing);
    }
    if (fresh("colouring") && this.drawing.shapes.length) {
      const colouring = await get("colouring");
      if (this.painting) this.painting.take(colouring);
      else {
        this.painting = new Painting(this.drawing, colouring);
        this.touched = -1;
      }
      this.chosen = Math.min(this.chosen, this.painting.swatches.length - 1);
      this.tell("colours");
    }
    for (const name of ["suggestions", "choices", "pages", "files"])
      if (fresh(name)) this.tell(name, await get(name));
    this.revision = { ...revision };
    if (this.plan) this.tell("plan");
  }

  // work on either page

  /** Take a paint in hand; the one in hand already is put down. */
  choose(swatch) {
    this.chosen = swatch === this.chosen ? -1 : swatch;
    this.touched = -1;
    this.tell("chosen");
  }

  /** How far a touch reaches from now on. */
  reach(scope) {
    this.scope = scope;
    this.tell("scope");
  }

  /** Touch a region: with no paint in hand, ask about it; else paint it. */
  touch(region, scope = this.scope, point = null) {
    if (!this.painting) return;
    if (this.pointing && point) {
      const take = this.pointing;
      this.pointing = null;
      this.say("");
      take(point);
      return;
    }
    if (this.chosen >= 0) {
      this.paint(region, scope);
      return;
    }
    this.touched = region;
    this.tell("touched", region);
  }

  /** Give a region, and what its scope reaches, a swatch. */
  paint(region, scope = this.scope, given = this.chosen) {
    if (!this.painting || region < 0) return;
    const swatch = this.painting.swatches[given];
    const kind = this.painting.drawing.kinds[this.painting.drawing.kind[region]];
    const label = text.painted(kind.letter, swatch.name);
    const regions = this.painting.paint(region, scope, given);
    this.tell("painted", regions);
    this.say(label);
    if (!this.live) return;
    const [x, y] = this.painting.drawing.places[region];
    const at = [x, this.painting.drawing.height - y];
    this.#send({ at, scope, swatch: swatch.name, label });
  }

  release(index) {
    if (this.live) this.ask("release", { number: index });
    else {
      this.painting.release(index);
      this.tell("colours");
    }
  }

  undo() {
    if (this.live) this.ask("undo");
    else if (this.painting.undo()) this.tell("colours");
  }

  redo() {
    if (this.live) this.ask("redo");
    else if (this.painting.redo()) this.tell("colours");
  }

  /** The weakest contrast where regions touch, if there is one. */
  weakest() {
    return this.painting?.measure().contacts[0] ?? null;
  }

  /** Whether regions that touch are more alike than wished. */
  get short() {
    const weakest = this.weakest();
    return weakest !== null && weakest.value < this.painting.colouring.goal;
  }
}
