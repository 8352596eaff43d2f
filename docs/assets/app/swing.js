// Moves the picture of a fin that flutters: a button that plays it, and the airspeed on a slider.
//
// Python says where the points lie, how each speed's motion is shaped and how fast it turns and
// grows (`svg.mode.play`); this file only draws what follows. It stands still until it is asked to
// move, for everybody: the verdict above matters more.

/**
 * @typedef {{words: string, shape: [number, number][], growth: number, turn: number, start: number,
 *            lasts: number}} Step
 * @typedef {{name: string, columns: number, points: [number, number][], lift: number,
 *            modes: number[][], watch: number, at: number, loop: number, samples: number,
 *            trace: {left: number, width: number, top: number, height: number},
 *            steps: Step[]}} Play
 */

const REST = 0.5; // s between two runs
const FAINT = 0.02; // deflection below which a piece is not shaded

/** @param {number} value */
const short = (value) => value.toFixed(1);
/** @param {[number, number][]} points */
const line = (points) => `M${points.map(([x, y]) => `${short(x)} ${short(y)}`).join("L")}`;

export class Swing {
  /** @param {HTMLElement} element the calculator whose picture moves */
  constructor(element) {
    this.element = element;
    this.playing = false;
    this.moved = false; // whether the reader has moved the slider
    this.at = 0;
    this.begun = 0;
    this.frame = 0;
    this.calm = () => this.still(); // what is printed is the still picture
    addEventListener("beforeprint", this.calm);
  }

  close() {
    cancelAnimationFrame(this.frame);
    removeEventListener("beforeprint", this.calm);
  }

  // Lay the controls under the picture that has just come; what ran before runs on.
  place() {
    cancelAnimationFrame(this.frame);
    /** @type {HTMLElement | null} */
    const figure = this.element.querySelector("[data-play]");
    this.figure = figure;
    if (!figure) return;
    /** @type {Play} */
    this.data = JSON.parse(figure.dataset.play ?? "");
    const { steps, at } = this.data;
    this.at = this.moved ? Math.min(this.at, steps.length - 1) : at;
    this.swing = figure.querySelector(".d-swing");
    this.trace = figure.querySelector(".d-trace path");
    this.#controls(figure);
    this.#choose();
    if (this.playing) this.play();
  }

  /** @param {HTMLElement} figure */
  #controls(figure) {
    const box = document.createElement("div");
    box.className = "fs-swing-bar";
    this.button = document.createElement("button");
    this.button.type = "button";
    this.button.className = "fs-button";
    this.button.addEventListener("click", () => (this.playing ? this.still() : this.play()));
    box.append(this.button);
    this.slider = document.createElement("input");
    this.words = document.createElement("p");
    this.words.className = "fs-swing-words";
    if (this.data.steps.length > 1) {
      const label = document.createElement("label");
      label.append(`${this.data.name} `, this.slider);
      Object.assign(this.slider, { type: "range", min: "0", step: "1" });
      this.slider.max = String(this.data.steps.length - 1);
      this.slider.value = String(this.at);
      this.slider.addEventListener("input", () => {
        this.at = Number(this.slider.value);
        this.moved = true;
        this.#choose();
      });
      box.append(label);
    }
    figure.querySelector("svg")?.after(box, this.words);
    this.#named();
  }

  #named() {
    this.button.textContent = this.playing ? "Stop" : "Play";
    this.button.setAttribute("aria-label", this.playing ? "Stop the motion" : "Play the motion");
  }

  get step() {
    return this.data.steps[this.at];
  }

  // Another speed: its words, its course over time, and its motion from the start.
  #choose() {
    const { words } = this.step;
    this.words.textContent = `${words}.`;
    this.slider.setAttribute("aria-valuetext", words);
    this.begun = performance.now();
    const { trace, loop, samples, watch } = this.data;
    /** @type {[number, number][]} */
    const points = [];
    for (let sample = 0; sample < samples; sample++) {
      const time = (loop * sample) / (samples - 1);
      if (this.step.growth > 0 && time > this.step.lasts) break;
      const height = 0.5 - 0.5 * this.#deflection(time)[watch];
      points.push([trace.left + (trace.width * time) / loop, trace.top + trace.height * height]);
    }
    this.trace?.setAttribute("d", line(points));
    if (!this.playing) this.#draw(this.#deflection(0, 1));
  }

  play() {
    this.playing = true;
    this.begun = performance.now();
    this.#named();
    const next = () => {
      if (!this.playing || !this.figure?.isConnected) return;
      const { lasts } = this.step;
      const time = ((performance.now() - this.begun) / 1000) % (lasts + REST);
      this.#draw(this.#deflection(time, time > lasts ? 0 : undefined));
      this.frame = requestAnimationFrame(next);
    };
    cancelAnimationFrame(this.frame);
    this.frame = requestAnimationFrame(next);
  }

  still() {
    this.playing = false;
    cancelAnimationFrame(this.frame);
    if (!this.figure) return;
    this.#named();
    this.#draw(this.#deflection(0, 1));
  }

  // The deflection of each point at a time on the screen; `size` where it is not that of the time.
  #deflection(time, size = this.step.start * Math.exp(this.step.growth * time)) {
    const { modes, points } = this.data;
    const [cos, sin] = [Math.cos(this.step.turn * time), Math.sin(this.step.turn * time)];
    const shares = this.step.shape.map(([real, imaginary]) => size * (real * cos - imaginary * sin));
    return points.map((_, point) =>
      shares.reduce((sum, share, mode) => sum + share * modes[mode][point], 0),
    );
  }

  /** @param {number[]} z */
  #draw(z) {
    const { columns, points, lift } = this.data;
    /** @type {[number, number][]} */
    const places = points.map(([x, y], point) => [x, y - lift * z[point]]);
    const rows = points.length / columns;
    const [ground, ...rest] = this.swing?.children ?? [];
    const edge = rest.pop();
    const faces = rest.values();
    for (let row = 0; row + 1 < rows; row++) {
      for (let column = 0; column + 1 < columns; column++) {
        const first = row * columns + column;
        const ring = [first, first + 1, first + columns + 1, first + columns];
        const level = ring.reduce((sum, point) => sum + z[point], 0) / 4;
        const face = faces.next().value;
        face?.setAttribute("d", `${line(ring.map((point) => places[point]))}Z`);
        face?.setAttribute("class", level > 0 ? "d-rise" : "d-fall");
        face?.setAttribute("fill-opacity", Math.abs(level) < FAINT ? "0" : Math.abs(level).toFixed(2));
      }
    }
    const side = (from, step) => Array.from({ length: rows }, (_, row) => places[from + row * step]);
    const rim = [
      ...places.slice(0, columns),
      ...side(columns - 1, columns).slice(1),
      ...places.slice(-columns).reverse().slice(1),
      ...side(0, columns).reverse().slice(1, -1),
    ];
    for (const path of [ground, edge]) path?.setAttribute("d", `${line(rim)}Z`);
  }
}
