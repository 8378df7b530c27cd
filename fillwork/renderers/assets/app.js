// What the parts of the page share: the painting, what is chosen, and what to tell.

import { hand } from "./dom.js";
import { Painting } from "./painting.js";
import { Failure } from "./service.js";
import { speakHere, text } from "./text.js";

/** An answer that came when another sheet was shown already: nobody wants it. */
class Left extends Error {}

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
    this.sent = Promise.resolve(); // the wish that was sent last
    this.sending = 0; // touches that the server has not answered
    this.begun = null; // what can be opened and chosen, as it is fetched
    this.opening = 0;
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
    this.#count(1);
    try {
      return await action();
    } catch (error) {
      if (error instanceof Left) return undefined;
      if (!(error instanceof Failure)) throw error;
      const { message: what, where, mend, away } = error;
      this.complain({ what, where, mend });
      if (away && this.unsaved) this.say(`${what}. ${text.unsaved(this.unsaved)} ${text.toMend(mend)}`, true);
      return undefined;
    } finally {
      this.#count(-1);
    }
  }

  #count(more) {
    const before = Boolean(this.busy);
    this.busy += more;
    const now = Boolean(this.busy);
    if (now === before) return;
    if (now) document.body.setAttribute("aria-busy", "true");
    else document.body.removeAttribute("aria-busy");
    this.tell("busy", now);
  }

  complain({ what, where, mend }) {
    const here = speakHere(mend ?? "");
    // lines of a file that nobody wrote lead nowhere
    const place = /^(the page|palette of the plan), line \d+$/.test(where) ? "" : where;
    this.say([place, what].filter(Boolean).join(": ") + (here ? `. ${text.toMend(here)}` : ""), true);
  }

  // whether lines that look like construction are known to belong to the drawing

  get answered() {
    return localStorage.getItem(`fillwork-belongs-${this.sheet}`) !== null;
  }

  answer() {
    localStorage.setItem(`fillwork-belongs-${this.sheet}`, "1");
  }

  // live work

  /** Take a sheet up and show it when it is ready; of several the one asked for last. */
  async open(request) {
    this.opening += 1;
    const asked = this.opening;
    await this.attempt(async () => {
      // the parts need what there is to choose from
      const [{ id }] = await Promise.all([request(), this.begun]);
      if (asked !== this.opening) return;
      const before = this.sheet;
      this.#turnTo(id);
      const { task, revision, paper } = await this.follow();
      if (id !== this.sheet) return;
      // a file that is no drawing leaves what was there; of a picture the corners may mend it
      const wrong = task.state === "failed" && !revision.lines && !paper;
      const stopped = task.state !== "failed" && !revision.drawing;
      if (wrong || stopped) await this.#goBack(before, task);
      else await this.#sendWaiting(id);
    });
  }

  /** Begin with another sheet; none shows the welcome. */
  #turnTo(id) {
    this.sheet = id;
    this.revision = {};
    this.pencilled = 0;
    this.painting = this.plan = this.state = this.heard = this.pointing = null;
    this.chosen = this.touched = -1;
    if (id) sessionStorage.setItem("fillwork-sheet", id);
    else sessionStorage.removeItem("fillwork-sheet");
    this.say("");
    this.tell("opened", id);
  }

  /** Show the sheet from before again, and say what was wrong with the file, or that it was left. */
  async #goBack(sheet, { state, error }) {
    this.#turnTo(sheet);
    if (sheet) await this.follow();
    else await this.begin();
    if (state === "failed") this.complain(error);
    else this.say(text.stopped);
  }

  /** Fetch what can be opened, and what else there is to choose from. */
  async begin() {
    this.begun = this.service.get("start");
    this.start = await this.begun;
    this.tell("start", this.start);
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
    const refused = (error) => {
      if (error.away) throw error; // else it would be refused again
    };
    for (const row of rows) await this.#post("paint", row).catch(refused);
    this.#hold(sheet, []);
    await this.follow();
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
        this.sending += 1;
        await this.#post("paint", touch).finally(() => {
          this.sending -= 1;
        });
        await this.follow();
        done();
      } catch (error) {
        if (!error.away) done(); // refused: it would be refused again
        else this.unsaved = this.#waiting(sheet).length;
        throw error;
      }
    });
  }

  /** Send a wish after those before it, so that they arrive in their order. */
  #post(path, table) {
    const { sheet } = this;
    const answer = this.sent.then(() => this.service.post(`${sheet}/${path}`, table));
    this.sent = answer.catch(() => {});
    return answer;
  }

  /** Hand the person a file of the sheet, in which all is that was wished before. */
  file(path, name) {
    return this.attempt(async () => {
      await this.sent;
      await this.follow();
      hand(await this.blob(path), name);
    });
  }

  /** Take up a file, such as a plan. */
  async give(path, file) {
    await this.attempt(async () => {
      await this.service.send(`${this.sheet}/${path}`, file);
      await this.#done(path);
    });
  }

  /** Ask the sheet for something, and follow what it does. */
  async ask(path, table = {}) {
    if (!this.sheet) return;
    await this.attempt(async () => {
      if (path !== "paint") this.say("");
      await this.#post(path, table);
      await this.#done(path);
    });
  }

  /** Follow what a wish does, and say so if it came about. */
  async #done(path) {
    const { sheet, heard } = this;
    const { task } = await this.follow();
    const well = task.state === "idle" && task.failed === (heard?.failed ?? 0);
    if (well && sheet === this.sheet && text.done[path]) this.say(text.done[path]);
  }

  change(settings, label, renamed = {}) {
    // what is asked before the answer comes builds on it
    if (this.plan) merge(this.plan.plan, settings);
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

  /** Wait for the sheet's work and fetch what is new; once more for who asks meanwhile. */
  follow() {
    this.again = true;
    this.following ??= this.#follow().finally(() => {
      this.following = null;
    });
    return this.following;
  }

  async #follow() {
    let state;
    while (this.again) {
      this.again = false;
      const { sheet } = this;
      try {
        state = await this.service.settle(sheet, (now) => sheet === this.sheet && this.#see(now));
        if (sheet !== this.sheet) continue;
        await this.#fetch(state.revision);
        this.#hear(state.task);
        this.tell("settled", state);
      } catch (error) {
        if (sheet !== this.sheet) continue; // it is of a sheet that was left
        if (this.state) this.#see({ ...this.state, task: { state: "unknown" } }); // nobody waits for it any more
        throw error;
      }
    }
    return state;
  }

  #see(state) {
    this.state = state;
    this.tell("state", state);
    if (!this.painting && state.task.state !== "unknown") this.attempt(() => this.#fetchLines(state.revision.lines));
    return true;
  }

  /** Say how jobs ended since the last time: each failure once, also where another job followed. */
  #hear({ state, error, ended, failed }) {
    const first = { ended: 0, failed: state === "failed" ? failed - 1 : failed };
    const before = this.heard && this.heard.ended <= ended ? this.heard : first; // else it was opened anew
    this.heard = { ended, failed };
    if (failed > before.failed) this.complain(error);
    else if (state === "cancelled" && ended > before.ended) this.say(text.cancelled);
  }

  /** Get something of the sheet that is shown, as long as it is. */
  get(name) {
    return this.#ofSheet((sheet) => this.service.get(`${sheet}/${name}`));
  }

  /** The same for pictures and files. */
  blob(name) {
    return this.#ofSheet((sheet) => this.service.blob(`${sheet}/${name}`));
  }

  /** A picture's address for as long as the page is open. */
  async picture(name) {
    return URL.createObjectURL(await this.blob(`pictures/${name}`));
  }

  async #ofSheet(ask) {
    const { sheet } = this;
    const found = await ask(sheet).catch((error) => {
      if (sheet === this.sheet) throw error;
    });
    if (sheet !== this.sheet) throw new Left();
    return found;
  }

  /** The lines stand there before any search, and where no line closes a region. */
  async #fetchLines(revision) {
    if (revision === this.pencilled || !revision) return;
    this.pencilled = revision;
    const lines = await this.get("lines");
    if (!this.painting) this.tell("lines", lines);
  }

  async #fetch(revision) {
    const fresh = (name) => revision[name] !== this.revision[name] && revision[name] > 0;
    const taken = { ...revision };
    let news = fresh("plan");
    if (news) this.plan = await this.get("plan");
    if (fresh("drawing")) {
      news = true;
      await this.#fetchDrawing(revision);
    } else if (fresh("colouring") && this.painting) {
      const colouring = await this.get("colouring");
      // what was touched meanwhile is painted already: it is in the answer to come
      if (this.sending || this.again) taken.colouring = this.revision.colouring;
      else {
        news = true;
        this.painting.take(colouring);
        this.#tellColours();
      }
    }
    for (const name of ["suggestions", "choices", "pages", "files"])
      if (fresh(name)) this.tell(name, await this.get(name));
    this.revision = taken;
    // fields that are written in stay where nothing has changed
    if (this.plan && news) this.tell("plan");
  }

  /** Another drawing with its colours, or one in which no line closes a region. */
  async #fetchDrawing(revision) {
    const drawing = await this.get("drawing");
    const colouring = drawing.shapes.length ? await this.get("colouring") : null;
    this.drawing = drawing;
    this.painting = colouring && new Painting(drawing, colouring);
    this.touched = -1;
    if (!colouring) await this.#fetchLines(revision.lines);
    this.tell("drawing", drawing);
    if (colouring) this.#tellColours();
  }

  #tellColours() {
    this.chosen = Math.min(this.chosen, this.painting.swatches.length - 1);
    this.pencilled = 0; // the colours lie where the lines stood
    this.tell("colours");
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

  release(pin) {
    if (this.live) this.ask("release", { where: pin.where, scope: pin.scope });
    else {
      this.painting.release(pin);
      this.tell("colours");
    }
  }

  undo() {
    if (this.live) {
      if (this.state?.undo || this.busy) this.ask("undo");
    } else if (this.painting.undo()) this.tell("colours");
  }

  redo() {
    if (this.live) {
      if (this.state?.redo || this.busy) this.ask("redo");
    } else if (this.painting.redo()) this.tell("colours");
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

/** Set entries of a plan as the server does: null takes one away, a palette is replaced whole. */
function merge(table, settings) {
  for (const [key, value] of Object.entries(settings)) {
    if (value === null) delete table[key];
    else if (isTable(value) && key !== "palette") {
      if (!isTable(table[key])) table[key] = {};
      merge(table[key], value);
    } else table[key] = structuredClone(value);
  }
}

function isTable(value) {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
