// The page's side of the worker: starts it, numbers the questions, watches the time.
//
// Listeners hear plain states: {state: "idle"}
//   {state: "loading", stage, loaded, total}   {state: "live", version, milliseconds}
//   {state: "busy", done, total, note}         {state: "failed", stage, message}

// Seconds without a sign of life before the reader is told. Loading counts from the last byte.
const LIMITS = { boot: 60, answer: 30, ...globalThis.finstockLimits };

const CALM = 250; // ms between two reports of bytes; each one lays the page out anew

const SENTENCES = {
  missing: "This copy of the handbook was built without the calculators",
  download: "The calculator could not be loaded",
  time: "No answer came in time",
};

export class Engine {
  #worker = null;
  #asked = new Map();
  #number = 0;
  #timer = 0;
  #fresh = false;
  #told = 0;
  #listeners = new Set();
  state = { state: "idle" };

  listen(listener) {
    this.#listeners.add(listener);
    listener(this.state);
    return () => this.#listeners.delete(listener);
  }

  // Start Python unless it runs or is on its way. A failed start needs `restart`.
  start() {
    if (this.#worker || this.state.state === "failed") return;
    this.#say({ state: "loading", stage: "start", loaded: 0, total: 0 });
    // One that was started before this script was there; what it said meanwhile is heard below.
    const early = this.#fresh ? null : globalThis.finstockEarly;
    if (globalThis.finstockEarly) globalThis.finstockEarly = null;
    try {
      this.#worker =
        early?.worker ??
        new Worker(new URL("worker.js", import.meta.url), {
          type: "module",
          name: this.#fresh ? "fresh" : "calculator",
        });
    } catch (error) {
      this.#fail("start", `This browser cannot run the calculator: ${error.message}`);
      return;
    }
    this.#worker.onmessage = ({ data }) => this.#hear(data);
    this.#worker.onerror = (event) => {
      event.preventDefault?.();
      this.#fail("start", `${SENTENCES.download}${event.message ? `: ${event.message}` : ""}.`);
    };
    this.#worker.onmessageerror = () => this.#fail("start", `${SENTENCES.download}.`);
    this.#watch(LIMITS.boot);
    for (const data of early?.heard ?? []) this.#hear(data);
  }

  // End whatever runs and start over, with fresh files after a failure.
  restart() {
    this.#fresh = this.state.state === "failed";
    this.#end("stopped");
    this.#say({ state: "idle" });
    this.start();
  }

  // Give up the running answer. Python cannot be interrupted, so a new worker takes over.
  stop() {
    this.#fresh = false;
    this.#end("stopped");
    this.#say({ state: "idle" });
    this.start();
  }

  // Ask; `early` hears a verdict that is known before the rest of its answer. Resolves to the
  // worker's reply, or to {type: "dropped"} when a newer one took its place. Rejects with a sentence
  // for the reader.
  ask(message, early = () => {}) {
    this.start();
    if (!this.#worker) return Promise.reject(new Error(this.state.message));
    this.#number += 1;
    const id = this.#number;
    return new Promise((resolve, reject) => {
      this.#asked.set(id, { resolve, reject, early });
      this.#worker.postMessage({ id, ...message });
      if (this.state.state === "live") this.#watch(LIMITS.answer);
    });
  }

  #hear(data) {
    if (data.type === "progress") {
      this.#watch(LIMITS.boot);
      const state = { ...data, state: "loading" };
      const now = performance.now();
      if (data.stage === this.state.stage && now - this.#told < CALM) this.state = state;
      else {
        this.#told = now;
        this.#say(state);
      }
    } else if (data.type === "live") {
      this.#fresh = false;
      this.#watch(this.#asked.size ? LIMITS.answer : 0);
      this.#say({ ...data, state: "live" });
    } else if (data.type === "busy") {
      this.#watch(LIMITS.answer);
      this.#tell({ ...data, state: "busy" });
    } else if (data.type === "early") {
      this.#watch(LIMITS.answer);
      this.#asked.get(data.id)?.early(data.result);
    } else if (data.type === "failed" && data.id === undefined) {
      const lead = SENTENCES[data.stage === "missing" ? "missing" : "download"];
      this.#fail(data.stage, `${lead}: ${data.message.replace(/\.$/, "")}.`);
    } else {
      const asked = this.#asked.get(data.id);
      this.#asked.delete(data.id);
      this.#watch(this.#asked.size ? LIMITS.answer : 0);
      if (!asked) return;
      if (data.type === "failed") {
        asked.reject(new Error(`The calculation failed: ${data.message.replace(/\.$/, "")}.`));
      } else asked.resolve(data);
    }
  }

  #watch(seconds) {
    clearTimeout(this.#timer);
    if (!seconds) return;
    this.#timer = setTimeout(() => {
      const booting = this.state.state !== "live";
      this.#fail(
        "time",
        booting
          ? `${SENTENCES.download}: nothing happened for ${seconds} seconds.`
          : `${SENTENCES.time} (${seconds} seconds); the calculation was ended.`,
      );
    }, seconds * 1000);
  }

  #fail(stage, message) {
    this.#end(message);
    this.#say({ state: "failed", stage, message });
  }

  #end(reason) {
    clearTimeout(this.#timer);
    this.#worker?.terminate();
    this.#worker = null;
    const asked = [...this.#asked.values()];
    this.#asked.clear();
    for (const { resolve, reject } of asked) {
      if (reason === "stopped") resolve({ type: "dropped" });
      else reject(new Error(reason));
    }
  }

  #say(state) {
    this.state = state;
    this.#tell(state);
  }

  #tell(state) {
    for (const listener of this.#listeners) listener(state);
  }
}
