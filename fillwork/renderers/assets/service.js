// Talks with the server of this page, and waits for the work it does.

const POLL = 150; // ms between questions while work goes on

/** What went wrong, in the server's words. */
export class Failure extends Error {
  constructor({ what, where, mend, away = false }) {
    super(what);
    this.away = away; // nobody answered, or another start of fillwork did
    this.where = where;
    this.mend = mend;
  }
}

/** Sends requests with this start's token. */
export class Service {
  constructor(token, words) {
    this.token = token;
    this.words = words;
  }

  /** Ask for something and read it, `as` what it is: an answer may break off in its midst, too. */
  async #ask(path, options = {}, as = "json", again = true) {
    let [answer, body] = [];
    try {
      const headers = { "Fillwork-Token": this.token, ...options.headers };
      answer = await fetch(`/api/${path}`, { ...options, headers });
      if (answer.ok) body = await answer[as]();
    } catch {
      throw new Failure({ what: this.words.gone, where: "", mend: this.words.goneMend, away: true });
    }
    if (answer.ok) return body;
    if (answer.status === 401 || answer.status === 403)
      throw new Failure({ what: this.words.again, where: "", mend: this.words.againMend, away: true });
    const [sheet, rest] = path.split("/");
    if (answer.status === 404 && again && rest) {
      // of many sheets those used longest ago are put away; they are there again when asked for
      await this.post("reopen", { id: sheet });
      return this.#ask(path, options, as, false);
    }
    let table;
    try {
      table = (await answer.json()).error;
    } catch {
      table = null;
    }
    throw new Failure(table ?? { what: this.words.failed, where: "", mend: "" });
  }

  get(path) {
    return this.#ask(path);
  }

  blob(path) {
    return this.#ask(path, {}, "blob");
  }

  post(path, table = {}) {
    const headers = { "Content-Type": "application/json" };
    return this.#ask(path, { method: "POST", headers, body: JSON.stringify(table) });
  }

  async send(path, file) {
    let body;
    try {
      body = await file.arrayBuffer();
    } catch {
      // it was saved anew or moved after it was chosen, or is a folder
      throw new Failure({ what: this.words.unread, where: file.name, mend: this.words.unreadMend });
    }
    const name = encodeURIComponent(file.name);
    const join = path.includes("?") ? "&" : "?";
    const headers = { "Content-Type": "application/octet-stream" };
    const options = { method: "POST", headers, body };
    return this.#ask(`${path}${join}name=${name}`, options);
  }

  /** Ask for a sheet's state until nothing is left to do, or who is told wants no more. */
  async settle(sheet, tell) {
    for (;;) {
      const state = await this.get(`${sheet}/state`);
      if (tell(state) === false || state.task.state !== "working") return state;
      await new Promise((done) => setTimeout(done, POLL));
    }
  }
}
