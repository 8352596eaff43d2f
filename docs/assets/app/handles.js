// The drawing as the input: handles over the fin's picture, for mouse, finger and keyboard.
//
// Python says what can be dragged and which inputs follow (`shared.drag`); this file turns places
// into texts for the form, which stay the only inputs there are.

const METRES = { in: 0.0254, mm: 0.001, cm: 0.01, m: 1, ft: 0.3048 };
// Steps of a drag or an arrow key, the usual one and the finer one with Shift.
const STEPS = { in: [1 / 16, 1 / 64], mm: [1, 0.1], cm: [0.1, 0.01], deg: [1, 0.1] };
const THIN = { in: [1 / 32, 1 / 64], mm: [0.5, 0.1], cm: [0.05, 0.01] }; // those of a thickness
const LEAST = { root: 0.005, span: 0.005, tip: 0, thickness: 0.0003 }; // metres
const REACH = 44; // of the grain's handle from the middle of the fin, in the drawing's units
const SVG = "http://www.w3.org/2000/svg";

const degrees = (radians) => (radians * 180) / Math.PI;

/** @param {string} unit @param {boolean} fine @param {Record<string, number[]>} [steps] */
function stride(unit, fine, steps = STEPS) {
  const [coarse, finer] = steps[unit] ?? [0.001 / METRES[unit], 0.0001 / METRES[unit]];
  return fine ? finer : coarse;
}

/** @param {number} value @param {string} unit @param {boolean} fine @param {Record<string, number[]>} [steps] */
function snapped(value, unit, fine, steps = STEPS) {
  const step = stride(unit, fine, steps);
  return Math.round(value / step) * step;
}

const plain = (value) => String(Number(value.toFixed(4)));

// Inches as a ruler has them: "1 9/16".
function written(value, unit) {
  const parts = Math.round(Math.abs(value) * 64);
  if (unit !== "in" || Math.abs(parts / 64 - Math.abs(value)) > 1e-6) return plain(value);
  let [rest, under] = [parts % 64, 64];
  while (rest && rest % 2 === 0) [rest, under] = [rest / 2, under / 2];
  const whole = Math.floor(parts / 64);
  const text = [whole || !rest ? whole : "", rest ? `${rest}/${under}` : ""].join(" ").trim();
  return value < 0 && parts ? `-${text}` : text;
}

export class Handles {
  /** @param {any} calculator what reads and writes the form and asks for verdicts */
  constructor(calculator) {
    this.calculator = calculator;
    this.held = null; // the handle under a finger
    this.waiting = null; // a new picture that came meanwhile
    this.focused = null; // the handle to focus in the next picture
  }

  get dragging() {
    return this.held !== null;
  }

  // Lay handles over the picture that has just come.
  place() {
    const figure = this.calculator.element.querySelector("[data-fragment=drawing] [data-handles]");
    const drawn = figure?.querySelector("svg.fs-svg");
    this.stage = null;
    if (!drawn) return;
    this.data = JSON.parse(figure.dataset.handles);
    this.shape = this.data.shape;
    const stage = document.createElement("div");
    stage.className = "fs-stage";
    drawn.before(stage);
    stage.append(drawn);
    const { width, height } = drawn.viewBox.baseVal;
    this.size = { width, height };
    this.ghost = document.createElementNS(SVG, "svg");
    this.ghost.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.ghost.setAttribute("class", "fs-ghost");
    this.ghost.setAttribute("aria-hidden", "true");
    this.ghost.append(document.createElementNS(SVG, "path"));
    stage.append(this.ghost);
    const hint = document.createElement("p");
    hint.className = "fs-help fs-hint";
    hint.textContent = "Drag the marks, or move them with the arrow keys (finer with Shift).";
    stage.after(hint);
    this.stage = stage;
    this.drawn = drawn;
    this.buttons = new Map();
    for (const handle of this.data.handles) {
      const inputs = handle.sets.map((set) => this.calculator.field(set.input));
      if (inputs.some((field) => !field || field.hidden)) continue;
      this.buttons.set(handle.id, this.#button(handle));
    }
    this.#arrange();
    if (this.focused) this.buttons.get(this.focused)?.focus({ preventScroll: true });
    this.focused = null;
  }

  #button(handle) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = `fs-handle fs-handle-${handle.id.split("-")[0]}`;
    button.dataset.handle = handle.id;
    button.setAttribute("role", "slider");
    button.setAttribute("aria-label", handle.label);
    button.addEventListener("pointerdown", (event) => this.#take(event, handle, button));
    button.addEventListener("pointermove", (event) => this.#drag(event, handle));
    button.addEventListener("pointerup", () => this.#drop());
    button.addEventListener("pointercancel", () => this.#drop());
    button.addEventListener("keydown", (event) => this.#key(event, handle));
    this.stage.append(button);
    return button;
  }

  // places

  #onPage(x, y) {
    const { left, top, scale, first } = this.data;
    return [left + y * scale, top + (x - first) * scale];
  }

  // A thickness is pulled at the section's upper face, about its middle.
  #inFin(event, handle) {
    const box = this.drawn.getBoundingClientRect();
    const { left, top, scale, first, section } = this.data;
    const across = ((event.clientX - box.left) / box.width) * this.size.width;
    const down = ((event.clientY - box.top) / box.height) * this.size.height;
    if (handle.id === "thickness") return [0, (2 * (section.middle - down)) / section.scale];
    return [(down - top) / scale + first, (across - left) / scale];
  }

  #spot(handle) {
    if (handle.id === "thickness") {
      const { left, wide, middle, scale } = this.data.section;
      return [left + 0.5 * wide, middle - 0.5 * handle.y * scale];
    }
    if (handle.sets[0].input !== "grain") return this.#onPage(handle.x, handle.y);
    const [across, down] = this.#onPage(handle.x, handle.y);
    // the angle runs from the tube's rear toward the tip; on the page the tube runs down
    const { theta } = this.data;
    return [across + REACH * Math.sin(theta), down + REACH * Math.cos(theta)];
  }

  #arrange() {
    for (const handle of this.data.handles) {
      const button = this.buttons.get(handle.id);
      if (!button) continue;
      const [across, down] = this.#spot(handle);
      button.style.left = `${(100 * across) / this.size.width}%`;
      button.style.top = `${(100 * down) / this.size.height}%`;
      const told = handle.sets.map((set) => this.#told(handle, set));
      button.setAttribute("aria-valuetext", told.join(", "));
      button.setAttribute("aria-valuenow", String(this.#number(handle)));
    }
  }

  #told(handle, set) {
    const { calculator } = this;
    const field = calculator.field(set.input);
    if (set.input !== "points") {
      const label = field.querySelector("label").textContent.trim();
      return `${label} ${calculator.read(field).replace(/([\d.])([a-z])/i, "$1 $2")}`;
    }
    const unit = this.#unit(set);
    const size = (metres) => `${written(snapped(metres / METRES[unit], unit, true), unit)} ${unit}`;
    return `${size(handle.x)} back, ${size(handle.y)} out`;
  }

  #number(handle) {
    const [set] = handle.sets;
    if (set.input === "grain") return Number(degrees(set.zero - this.data.theta).toFixed(1));
    const value = set.axis === "y" ? handle.y : handle.x - (set.minus ?? 0);
    return Number((1000 * value).toFixed(1));
  }

  #unit(set) {
    const field = this.calculator.field(set.input);
    const known = set.input === "points"
      ? /([a-z]+)\s*$/i.exec(this.calculator.read(field))?.[1]
      : this.calculator.unit(field);
    return known in METRES ? known : "in";
  }

  // moving

  #take(event, handle, button) {
    if (event.button) return;
    event.preventDefault();
    button.focus({ preventScroll: true });
    button.setPointerCapture(event.pointerId);
    const [across, down] = this.#spot(handle);
    const box = this.drawn.getBoundingClientRect();
    // where on the handle it was taken, so that it does not jump
    this.held = {
      handle,
      off: [
        event.clientX - box.left - (across / this.size.width) * box.width,
        event.clientY - box.top - (down / this.size.height) * box.height,
      ],
    };
    this.stage.classList.add("fs-dragging");
    this.calculator.grasp();
  }

  #drag(event, handle) {
    if (this.held?.handle !== handle) return;
    const [dx, dy] = this.held.off;
    const at = { clientX: event.clientX - dx, clientY: event.clientY - dy };
    this.#move(handle, ...this.#inFin(at, handle), event.shiftKey);
  }

  #drop() {
    if (!this.held) return;
    this.focused = this.held.handle.id;
    this.held = null;
    this.stage.classList.remove("fs-dragging");
    this.calculator.release();
  }

  #key(event, handle) {
    const [right, down] = {
      ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1],
    }[event.key] ?? [0, 0];
    if (!right && !down) return;
    event.preventDefault();
    const [set] = handle.sets;
    if (set.input === "grain") {
      const step = STEPS.deg[event.shiftKey ? 1 : 0] * (right || down);
      this.#turn(set, degrees(set.zero - this.data.theta) + step, event.shiftKey);
    } else if (handle.id === "thickness") {
      const unit = this.#unit(set);
      const metres = stride(unit, event.shiftKey, THIN) * METRES[unit] * (right || -down);
      this.#move(handle, 0, handle.y + metres, event.shiftKey);
    } else {
      const unit = this.#unit(set);
      const metres = stride(unit, event.shiftKey) * METRES[unit];
      this.#move(handle, handle.x + down * metres, handle.y + right * metres, event.shiftKey);
    }
    this.focused = handle.id;
    this.calculator.nudge();
  }

  // A handle to another place of the fin: the inputs follow, and all that hangs on them.
  #move(handle, x, y, fine) {
    const [set] = handle.sets;
    if (set.input === "grain") {
      const turned = degrees(set.zero - Math.atan2(y - handle.y, x - handle.x));
      return this.#turn(set, turned, fine);
    }
    for (const each of handle.sets) {
      if (each.input === "points") this.#corner(each, x, y, fine);
      else this.#size(each, x, y, fine);
    }
    this.#follow();
  }

  #turn(set, turned, fine) {
    // a grain turned by half a turn is the same: from -90 up to 90 degrees
    let angle = snapped(turned, "deg", fine);
    while (angle > 90) angle -= 180;
    while (angle <= -90) angle += 180;
    this.#write(set.input, `${plain(angle)}`);
    this.data.theta = set.zero - (angle * Math.PI) / 180;
    this.#follow();
  }

  #size(set, x, y, fine) {
    const unit = this.#unit(set);
    const metres = (set.axis === "x" ? x : y) - (set.minus ?? 0);
    const kept = Math.max(metres, LEAST[set.input] ?? -Infinity);
    const steps = set.input === "thickness" ? THIN : STEPS;
    let value = snapped(kept / METRES[unit], unit, fine, steps);
    // a sheet without thickness is none
    if (set.input === "thickness") value = Math.max(value, stride(unit, true, THIN));
    this.#write(set.input, `${written(value, unit)} ${unit}`);
    this.shape[set.input] = value * METRES[unit];
  }

  #corner(set, x, y, fine) {
    const unit = this.#unit(set);
    const corner = this.shape.points[set.index];
    const place = [x + this.shape.start, set.axes === "x" ? 0 : Math.max(y, 0)];
    place.forEach((metres, axis) => {
      corner[axis] = snapped(metres / METRES[unit], unit, fine) * METRES[unit];
    });
    const texts = this.shape.points.map((point) =>
      point.map((metres) => plain(metres / METRES[unit])).join(","),
    );
    this.#write("points", `${texts.join(" ")} ${unit}`);
  }

  #write(name, text) {
    this.calculator.write(this.calculator.field(name), text);
  }

  // Handles, the moving outline and the verdict follow the inputs.
  #follow() {
    const { kind, root, tip, span, sweep, points, start } = this.shape;
    const datum = kind === "ellipse" ? 0.5 * root : 0;
    const places = {
      tip: [datum + sweep, span],
      "tip-rear": [sweep + tip, span],
      root: [root, 0],
      thickness: [0, this.shape.thickness],
    };
    for (const handle of this.data.handles) {
      const [set] = handle.sets;
      if (set.input === "points") {
        const [x, y] = points[set.index];
        [handle.x, handle.y] = [x - start, y];
      } else if (places[handle.id]) {
        [handle.x, handle.y] = places[handle.id];
      }
      for (const each of handle.sets) {
        if (each.input === "tip") each.minus = sweep;
        if (each.input === "sweep") each.minus = datum;
      }
    }
    this.#arrange();
    const spots = this.#rim().map(([x, y]) => this.#onPage(x, y).map((at) => at.toFixed(1)).join(" "));
    let drawn = `M${spots.join("L")}Z`;
    if (this.buttons.has("thickness")) {
      const { left, wide, middle, scale } = this.data.section;
      const thick = this.shape.thickness * scale;
      drawn += `M${left} ${middle - 0.5 * thick}h${wide}v${thick}h${-wide}Z`;
    }
    this.ghost.firstElementChild.setAttribute("d", drawn);
    this.stage.classList.add("fs-moved");
    this.calculator.glance();
  }

  #rim() {
    const { kind, root, tip, span, sweep, points, start } = this.shape;
    if (kind === "corners") return points.map(([x, y]) => [x - start, y]);
    if (kind === "straight") return [[0, 0], [sweep, span], [sweep + tip, span], [root, 0]];
    return Array.from({ length: 41 }, (_, step) => {
      const turn = (Math.PI * step) / 40;
      const y = Math.sin(turn);
      return [0.5 * root * (1 - Math.cos(turn)) + sweep * y, span * y];
    });
  }
}
