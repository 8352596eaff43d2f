// "Keep for offline use": the reader's side of the service worker. An enhancement: without service
// workers (some private windows) the control says so and everything else works.
//
// Fills every <div class="fs-keep"></div> of a page.

const ROOT = new URL("../../", import.meta.url);
const PATIENCE = 1500; // ms for a new edition to take over
const megabytes = (count) => `${(count / 1e6).toFixed(1)} MB`;

class Offline {
  #registration = null;
  #state = { kind: "unknown" };
  #begun = false;
  #reloading = false;

  // Put the control wherever a page asks for it; find out once what this device keeps.
  place() {
    if (!this.#begun) this.#begin();
    this.#begun = true;
    this.#draw();
  }

  async #begin() {
    if (!navigator.serviceWorker) {
      this.#set({ kind: "impossible" });
      return;
    }
    try {
      this.#registration = await navigator.serviceWorker.getRegistration(ROOT.href);
      if (this.#registration?.scope !== ROOT.href) this.#registration = null;
      if (this.#registration) {
        this.#watch();
        this.#registration.update().catch(() => {});
      }
      await this.#refresh();
    } catch {
      this.#set({ kind: "impossible" });
    }
  }

  async #refresh() {
    if (!this.#registration?.active) {
      const total = await this.#size();
      this.#set(total === null ? { kind: "unbuilt" } : { kind: "absent", total });
      return;
    }
    const status = await this.#send({ type: "status" });
    this.#set({ kind: status.kept ? "kept" : "absent", ...status });
  }

  // What there is to download, before any service worker exists.
  async #size() {
    try {
      const response = await fetch(new URL("rt/runtime.json", ROOT));
      const { total, offline } = await response.json();
      return offline ? total : null;
    } catch {
      return 0;
    }
  }

  // A new edition is fetched in the background and waits; the reader decides when to change.
  #watch() {
    const registration = this.#registration;
    const offer = () => {
      if (registration.waiting && registration.active) this.#announce();
    };
    offer();
    registration.addEventListener("updatefound", () => {
      const arriving = registration.installing;
      arriving?.addEventListener("statechange", () => {
        if (arriving.state === "installed") offer();
      });
    });
    navigator.serviceWorker.addEventListener("controllerchange", () => {
      if (this.#reloading) location.reload();
    });
  }

  #announce() {
    if (document.querySelector(".fs-edition")) return;
    const bar = document.createElement("div");
    bar.className = "fs-edition";
    bar.setAttribute("role", "status");
    const text = document.createElement("span");
    text.textContent = "New edition ready. ";
    const button = this.#button("Reload", () => {
      this.#reloading = true;
      this.#registration.waiting?.postMessage({ type: "activate" });
      // The engine changes when the old edition has nothing under way; leaving the page ends that.
      setTimeout(() => location.reload(), PATIENCE);
    });
    const later = this.#button("Later", () => bar.remove());
    bar.append(text, button, " ", later);
    document.body.append(bar);
  }

  /** @param {object} message @param {(progress: any) => void} hear @returns {Promise<any>} */
  #send(message, hear = () => {}) {
    return new Promise((resolve, reject) => {
      const { port1, port2 } = new MessageChannel();
      let timer = 0;
      const alive = () => {
        clearTimeout(timer);
        timer = setTimeout(() => reject(new Error("no sign of life for 60 seconds")), 60000);
      };
      alive();
      port1.onmessage = ({ data }) => {
        alive();
        if (data.type === "progress") return hear(data);
        clearTimeout(timer);
        port1.close();
        if (data.type === "failed") reject(Object.assign(new Error(data.message), data));
        else resolve(data);
      };
      this.#registration.active.postMessage(message, [port2]);
    });
  }

  async keep() {
    const { total = 0 } = this.#state;
    let arrived = 0;
    this.#set({ kind: "keeping", loaded: 0, total });
    try {
      if (!this.#registration) {
        this.#registration = await navigator.serviceWorker.register(new URL("sw.js", ROOT), {
          scope: ROOT.href,
        });
        await this.#active();
        this.#watch();
      }
      // Asked only now, after the reader's own tap: some browsers put a question for it. The
      // answer does not matter, so it is not waited for.
      navigator.storage?.persist?.().catch(() => {});
      await this.#send({ type: "keep" }, (progress) => {
        arrived = progress.loaded;
        this.#set({ ...progress, kind: "keeping" });
      });
      await this.#refresh();
    } catch (error) {
      const message = error.full
        ? `This device refused the space (${megabytes(total)} are needed). Nothing was kept.`
        : `The download stopped at ${megabytes(arrived)}: ${error.message}. ` +
          "What has arrived is kept; try again to go on.";
      this.#set({ kind: "failed", total, message });
    }
  }

  #active() {
    const worker = this.#registration.installing ?? this.#registration.waiting;
    if (this.#registration.active || !worker) return Promise.resolve();
    return new Promise((resolve, reject) => {
      worker.addEventListener("statechange", () => {
        if (worker.state === "activated") resolve();
        if (worker.state === "redundant") reject(new Error("the browser refused to set it up"));
      });
    });
  }

  async update() {
    try {
      await this.#registration.update();
      await this.#refresh();
      if (!this.#registration.installing && !this.#registration.waiting) {
        this.#set({ ...this.#state, note: "This is the latest edition." });
      }
    } catch {
      this.#set({ ...this.#state, note: "No network: could not look for a new edition." });
    }
  }

  async remove() {
    await this.#send({ type: "remove" });
    await this.#registration.unregister();
    this.#registration = null;
    await this.#refresh();
  }

  #set(state) {
    const kind = this.#state.kind;
    this.#state = state;
    this.#draw(kind === state.kind && kind === "keeping");
  }

  #button(label, act) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "fs-button";
    button.textContent = label;
    button.addEventListener("click", act);
    return button;
  }

  #draw(sameKind = false) {
    for (const place of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".fs-keep"))) {
      const { kind, loaded = 0, total = 0, kept, message, note, have } = this.#state;
      if (sameKind && place.querySelector("progress")) {
        place.querySelector("progress").value = total ? loaded / total : 0;
        place.querySelector(".fs-bytes").textContent = `${megabytes(loaded)} of ${megabytes(total)}`;
        continue;
      }
      place.dataset.state = kind;
      const text = document.createElement("p");
      text.setAttribute("role", "status");
      /** @type {HTMLElement[]} */
      const parts = [text];
      if (kind === "absent" || kind === "failed") {
        text.textContent =
          message ??
          (have && have < total
            ? `An earlier download stopped: ${megabytes(have)} of ${megabytes(total)} are here.`
            : "Not kept on this device.");
        parts.push(this.#button(`Keep for offline use (${megabytes(total)})`, () => this.keep()));
      } else if (kind === "keeping") {
        text.textContent = "Fetching the handbook and its calculators…";
        const bar = document.createElement("progress");
        bar.max = 1;
        bar.value = total ? loaded / total : 0;
        bar.setAttribute("aria-label", "Download");
        const bytes = document.createElement("span");
        bytes.className = "fs-bytes";
        bytes.setAttribute("aria-hidden", "true");
        parts.push(bar, bytes);
      } else if (kind === "kept") {
        text.textContent =
          note ?? `Kept on this device: pages and calculators, edition ${kept} (${megabytes(total)}).`;
        parts.push(
          this.#button("Look for a new edition", () => this.update()),
          this.#button("Remove from this device", () => this.remove()),
        );
      } else if (kind === "unbuilt") {
        text.textContent = "This copy of the handbook cannot be kept: it was built without calculators.";
      } else if (kind === "impossible") {
        text.textContent = "This browser cannot keep pages for offline use in this window.";
      }
      place.replaceChildren(...parts);
    }
  }
}

export const offline = new Offline();
